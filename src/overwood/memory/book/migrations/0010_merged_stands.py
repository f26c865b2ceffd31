from django.db import migrations

from overwood.memory.book.migrations._written import added


class Migration(migrations.Migration):
    dependencies = [("book", "0009_office")]

    operations = [
        *added("stand", "merged_into"),
    ]
