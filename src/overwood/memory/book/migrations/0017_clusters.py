from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('book', '0023_seals_and_ends'),
    ]

    operations = [
        migrations.AddField(
            model_name='acorntree',
            name='cluster',
            field=models.TextField(default=''),
        ),
        migrations.AddField(
            model_name='point',
            name='cluster',
            field=models.TextField(default=''),
        ),
    ]
