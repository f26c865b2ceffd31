from django.db import migrations, models

_BIG = {"auto_created": True, "primary_key": True, "serialize": False, "verbose_name": "ID"}


class Migration(migrations.Migration):

    dependencies = [("book", "0026_answer")]

    operations = [
        migrations.CreateModel(
            name="SecondFactor",
            fields=[
                ("id", models.BigAutoField(**_BIG)),
                ("who", models.CharField(max_length=150, unique=True)),
                ("secret", models.TextField()),
                ("last_step", models.BigIntegerField(default=0)),
                ("spare", models.JSONField(default=list)),
                ("confirmed_at", models.DateTimeField(null=True)),
            ],
            options={"db_table": "second_factor"},
        ),
        migrations.CreateModel(
            name="Link",
            fields=[
                ("id", models.BigAutoField(**_BIG)),
                ("digest", models.CharField(max_length=64, unique=True)),
                ("who", models.CharField(max_length=150)),
                ("role", models.TextField(default="")),
                ("made_by", models.TextField()),
                ("made_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                ("used_at", models.DateTimeField(null=True)),
            ],
            options={"db_table": "link"},
        ),
    ]
