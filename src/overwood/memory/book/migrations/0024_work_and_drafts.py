from django.db import migrations, models

from overwood.memory.book.migrations._written import columns, number


class Migration(migrations.Migration):
    dependencies = [("book", "0019_uploads")]

    operations = [
        migrations.CreateModel(
            name="Work",
            fields=[
                number(),
                ("kind", models.TextField()),
                ("title", models.TextField()),
                ("asked", models.JSONField()),
                ("who", models.TextField(default="")),
                ("state", models.TextField(db_index=True)),
                ("done", models.IntegerField(default=0)),
                ("total", models.IntegerField(default=1)),
                *columns("note fault"),
                ("result", models.JSONField(null=True)),
                ("stop", models.BooleanField(default=False)),
                *columns("worker data_version"),
                ("made_at", models.DateTimeField()),
                ("beat_at", models.DateTimeField(null=True)),
                ("ended_at", models.DateTimeField(null=True)),
            ],
            options={"db_table": "work"},
        ),
        migrations.CreateModel(
            name="Draft",
            fields=[
                number(),
                ("who", models.TextField(default="")),
                ("kind", models.TextField()),
                ("stand", models.TextField()),
                ("made_for", models.TextField()),
                ("stamp", models.IntegerField(default=1)),
                ("content", models.JSONField()),
                ("changed_at", models.DateTimeField()),
            ],
            options={"db_table": "draft", "constraints": [models.UniqueConstraint(fields=("who", "kind", "stand"), name="one_draft")]},
        ),
    ]
