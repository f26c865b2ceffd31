from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('book', '0018_layouts'),
    ]

    operations = [
        migrations.CreateModel(
            name='Upload',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('who', models.TextField(db_index=True)),
                ('file_name', models.TextField()),
                ('content', models.BinaryField()),
                ('answers', models.JSONField(default=dict)),
                ('sent_at', models.DateTimeField()),
            ],
            options={
                'db_table': 'upload',
            },
        ),
    ]
