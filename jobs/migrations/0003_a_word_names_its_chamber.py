from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0002_a_role_is_held_once_in_either_case")]

    operations = [
        migrations.AlterField(model_name="leadsword", name="topic", field=models.CharField(max_length=100)),
    ]
