from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("book", "0043_photos")]

    operations = [
        migrations.AddField(model_name="guest", name=name, field=models.TextField(default="")) for name in ("contact", "telephone")
    ]
