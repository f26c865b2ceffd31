from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('book', '0024_work_and_drafts'),
    ]

    operations = [
        migrations.AddField(
            model_name='point',
            name='baf_ft2_ac',
            field=models.FloatField(null=True),
        ),
        migrations.AddField(
            model_name='point',
            name='plot_area_ac',
            field=models.FloatField(null=True),
        ),
    ]
