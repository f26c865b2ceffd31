from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("book", "0025_stamp")]

    operations = [
        migrations.RenameModel("Forecast", "Answer"),
        migrations.AlterModelTable("Answer", "answer"),
        migrations.AddField("Answer", "stand_mark", models.TextField(default="")),
        migrations.AddField("Answer", "digest", models.TextField(default="")),
    ]
