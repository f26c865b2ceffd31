from django.db import migrations, models

from overwood.memory.book.migrations._written import number

class Migration(migrations.Migration):

    dependencies = [("book", "0026_answer")]

    operations = [
        migrations.CreateModel(
            name="SecondFactor",
            fields=[
                number(),
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
                number(),
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
