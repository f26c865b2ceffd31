from django.db import migrations

from overwood.memory.book.migrations._written import added


class Migration(migrations.Migration):
    dependencies = [("book", "0001_first")]

    operations = [
        *added("tree", "defect_pct:real grade logs:real quality"),
    ]
