import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("inspections", "0005_chain"),
    ]

    operations = [
        migrations.AddField(
            model_name="reading",
            name="contests",
            field=models.ForeignKey(
                help_text="The reading of another person that stood already and that this one was entered without seeing.",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="contested_by",
                to="inspections.reading",
            ),
        ),
        migrations.AddField(
            model_name="reading",
            name="settled_at",
            field=models.DateTimeField(help_text="When somebody chose between the two.", null=True),
        ),
        migrations.AddField(
            model_name="reading",
            name="settled_by",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddIndex(
            model_name="reading",
            index=models.Index(
                condition=models.Q(("contests__isnull", False), ("settled_at", None)),
                fields=["step"],
                name="reading_contested",
            ),
        ),
    ]
