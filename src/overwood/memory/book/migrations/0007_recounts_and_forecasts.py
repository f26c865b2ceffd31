from django.db import migrations, models

from overwood.memory.book.migrations._written import added, number


class Migration(migrations.Migration):
    dependencies = [("book", "0006_fuels")]

    operations = [
        migrations.CreateModel(
            name="Forecast",
            fields=[
                number(),
                ("stand", models.TextField(db_index=True)),
                ("kind", models.TextField()),
                ("made_on", models.DateField()),
                ("made_at", models.DateTimeField()),
                ("rules_version", models.TextField()),
                ("data_version", models.TextField()),
                ("settings", models.JSONField()),
                ("result", models.JSONField()),
            ],
            options={"db_table": "forecast"},
        ),
        *added("point", "fenced:yes"),
    ]
