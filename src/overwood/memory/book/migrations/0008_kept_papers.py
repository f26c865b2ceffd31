from django.db import migrations, models

from overwood.memory.book.migrations._written import number


class Migration(migrations.Migration):
    dependencies = [("book", "0007_recounts_and_forecasts")]

    operations = [
        migrations.CreateModel(
            name="Paper",
            fields=[
                number(),
                ("stand", models.TextField(db_index=True)),
                ("which", models.TextField()),
                ("title", models.TextField()),
                ("own_words", models.TextField(default="")),
                ("made_on", models.DateField()),
                ("made_at", models.DateTimeField()),
                ("rules_version", models.TextField()),
                ("data_version", models.TextField()),
                ("content", models.BinaryField()),
            ],
            options={"db_table": "paper"},
        ),
    ]
