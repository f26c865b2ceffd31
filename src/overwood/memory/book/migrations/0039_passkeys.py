from django.db import migrations, models

from overwood.memory.book.migrations._written import number

class Migration(migrations.Migration):

    dependencies = [("book", "0037_second_factors_and_links")]

    operations = [
        migrations.CreateModel(
            name="Passkey",
            fields=[
                number(),
                ("who", models.CharField(max_length=150, db_index=True)),
                ("label", models.TextField()),
                ("credential", models.TextField(unique=True)),
                ("data", models.BinaryField()),
                ("count", models.BigIntegerField(default=0)),
                ("made_at", models.DateTimeField()),
                ("begun_at", models.DateTimeField()),
                ("used_at", models.DateTimeField(null=True)),
            ],
            options={"db_table": "passkey"},
        ),
    ]
