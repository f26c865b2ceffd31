from django.db import migrations

from overwood.memory.book.migrations._written import added


class Migration(migrations.Migration):
    dependencies = [("book", "0010_merged_stands")]

    operations = [
        *added("ring", "high_height_ft:real looked_for low_height_ft:real"),
    ]
