from django.db import migrations, models

from overwood.memory.book.migrations._written import number


class Migration(migrations.Migration):

    dependencies = [("book", "0028_walks")]

    operations = [
        migrations.CreateModel(
            name="Stamp",
            fields=[
                number(),
                ("version", models.TextField()),
                ("at", models.DateTimeField()),
            ],
            options={"db_table": "stamp"},
        ),
    ]
