import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("book", "0039_passkeys")]

    operations = [
        migrations.CreateModel(
            name="Photo",
            fields=[
                ("id", models.UUIDField(primary_key=True, serialize=False)),
                ("walk", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to="book.walk")),
                ("device", models.TextField()),
                ("made_at", models.TextField()),
                ("visit", models.TextField()),
                ("point", models.TextField()),
                ("jpeg", models.BinaryField()),
                ("came_at", models.DateTimeField()),
            ],
            options={"db_table": "photo"},
        ),
    ]
