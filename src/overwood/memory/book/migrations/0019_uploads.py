from django.db import migrations, models

from overwood.memory.book.migrations._written import number


class Migration(migrations.Migration):
    dependencies = [("book", "0018_layouts")]

    operations = [
        migrations.CreateModel(
            name="Upload",
            fields=[
                number(),
                ("who", models.TextField(db_index=True)),
                ("file_name", models.TextField()),
                ("content", models.BinaryField()),
                ("answers", models.JSONField(default=dict)),
                ("sent_at", models.DateTimeField()),
            ],
            options={"db_table": "upload"},
        ),
    ]
