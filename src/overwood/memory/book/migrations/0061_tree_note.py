"""Remarks of a tree."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("book", "0060_ground_features")]

    operations = [migrations.AddField(model_name="tree", name="note", field=models.TextField(default=""))]
