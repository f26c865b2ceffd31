from django.db import migrations

from overwood.memory.book.migrations._written import added


class Migration(migrations.Migration):
    dependencies = [("book", "0003_stem_maps")]

    operations = [
        *added("stemmap", "latitude_deg:real longitude_deg:real"),
    ]
