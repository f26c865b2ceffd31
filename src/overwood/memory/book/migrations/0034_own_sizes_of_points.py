from django.db import migrations

from overwood.memory.book.migrations._written import added


class Migration(migrations.Migration):
    dependencies = [("book", "0024_work_and_drafts")]

    operations = [
        *added("point", "baf_ft2_ac:real plot_area_ac:real"),
    ]
