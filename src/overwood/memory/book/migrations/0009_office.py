import django.db.models.deletion
from django.db import migrations, models

from overwood.memory.book.migrations._written import added, number


class Migration(migrations.Migration):
    dependencies = [("book", "0008_kept_papers")]

    operations = [
        migrations.CreateModel(
            name="Key",
            fields=[
                number(),
                ("digest", models.CharField(max_length=64, unique=True)),
                ("made_by", models.TextField()),
                ("made_at", models.DateTimeField()),
                ("used_at", models.DateTimeField(null=True)),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("label", models.TextField()),
            ],
            options={"db_table": "api_key"},
        ),
        migrations.CreateModel(
            name="Trace",
            fields=[
                number(),
                ("at", models.DateTimeField(db_index=True)),
                ("who", models.TextField(db_index=True)),
                ("role", models.TextField()),
                ("what", models.TextField()),
                ("address", models.TextField()),
                ("status", models.IntegerField()),
            ],
            options={"db_table": "trace"},
        ),
        *added("batch", "entered_by"),
        *added("forecast", "made_by"),
        *added("paper", "made_by"),
        migrations.CreateModel(
            name="Guest",
            fields=[
                number(),
                ("digest", models.CharField(max_length=64, unique=True)),
                ("made_by", models.TextField()),
                ("made_at", models.DateTimeField()),
                ("used_at", models.DateTimeField(null=True)),
                ("withdrawn_at", models.DateTimeField(null=True)),
                ("ends_on", models.DateField()),
                ("paper", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to="book.paper")),
            ],
            options={"db_table": "guest"},
        ),
    ]
