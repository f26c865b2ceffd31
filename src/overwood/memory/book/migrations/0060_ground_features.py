import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("book", "0053_guest_contact")]

    operations = [
        migrations.CreateModel(
            name="GroundFeature",
            fields=[
                ("id", models.UUIDField(primary_key=True, serialize=False)),
                ("replaces", models.UUIDField(db_index=True, null=True)),
                ("record_device", models.TextField(db_default="", default="")),
                ("stand", models.TextField(default="")),
                ("feature", models.TextField(default="")),
                ("kind", models.TextField(default="")),
                ("buffer_ft", models.FloatField(null=True)),
                ("shape_wkt", models.TextField(default="")),
                ("note", models.TextField(default="")),
                ("batch", models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, to="book.batch")),
            ],
            options={
                "db_table": "ground_features",
                "indexes": [models.Index(fields=["stand"], name="ground_feat_stand_5ef6f2_idx")],
            },
        ),
    ]
