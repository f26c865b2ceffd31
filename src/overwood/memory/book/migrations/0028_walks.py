import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("book", "0034_own_sizes_of_points")]

    operations = [
        migrations.CreateModel(
            name="Walk",
            fields=[
                ("id", models.UUIDField(primary_key=True, serialize=False)),
                ("key", models.CharField(max_length=64)),
                ("content", models.JSONField()),
                ("made_at", models.DateTimeField()),
                ("made_by", models.TextField(default="")),
                ("expires_on", models.DateField()),
                ("recalled_at", models.DateTimeField(null=True)),
                ("phones", models.JSONField(default=dict)),
                ("settled", models.JSONField(default=dict)),
            ],
            options={"db_table": "walk"},
        ),
        migrations.CreateModel(
            name="Tap",
            fields=[
                ("id", models.UUIDField(primary_key=True, serialize=False)),
                ("device", models.TextField()),
                ("seq", models.IntegerField()),
                ("made_at", models.TextField()),
                ("act", models.TextField()),
                ("table", models.TextField(default="")),
                ("row", models.JSONField(default=dict)),
                ("of", models.UUIDField(null=True)),
                ("came_at", models.DateTimeField()),
                ("walk", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to="book.walk")),
            ],
            options={"db_table": "tap"},
        ),
    ]
