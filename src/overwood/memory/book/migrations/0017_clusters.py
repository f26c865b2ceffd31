from django.db import migrations

from overwood.memory.book.migrations._written import added


class Migration(migrations.Migration):
    dependencies = [("book", "0023_seals_and_ends")]

    operations = [
        *added("acorntree", "cluster"),
        *added("point", "cluster"),
    ]
