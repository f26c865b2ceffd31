from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("book", "0028_walks")]

    operations = [
        migrations.CreateModel(
            name="Stamp",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("version", models.TextField()),
                ("at", models.DateTimeField()),
            ],
            options={"db_table": "stamp"},
        ),
    ]
