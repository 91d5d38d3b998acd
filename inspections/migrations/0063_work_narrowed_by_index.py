import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0050_current_by_gaps"),
        ("inspections", "0062_incomplete_by_index"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveIndex(
            model_name="inspection",
            name="inspection_by_machine",
        ),
        migrations.RemoveIndex(
            model_name="inspection",
            name="inspection_open_by_due",
        ),
        migrations.RemoveIndex(
            model_name="inspection",
            name="inspection_to_countersign",
        ),
        migrations.RemoveIndex(
            model_name="inspection",
            name="inspection_booked_by_day",
        ),
        migrations.AlterField(
            model_name="inspection",
            name="procedure",
            field=models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="inspections",
                to="inspections.procedure",
            ),
        ),
        migrations.AlterField(
            model_name="inspection",
            name="technician",
            field=models.ForeignKey(
                blank=True,
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="inspections",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddIndex(
            model_name="inspection",
            index=models.Index(
                fields=["stage", "due_on", "closes_on", "machine", "procedure", "booked_on", "technician"],
                name="inspection_open_by_due",
            ),
        ),
        migrations.AddIndex(
            model_name="inspection",
            index=models.Index(
                condition=models.Q(("signed_at__isnull", False)),
                fields=["stage", "signed_at", "id", "signed_by", "machine", "procedure", "due_on"],
                name="inspection_to_countersign",
            ),
        ),
        migrations.AddIndex(
            model_name="inspection",
            index=models.Index(
                fields=["stage", "booked_on", "technician", "machine", "due_on"], name="inspection_booked_by_day"
            ),
        ),
        migrations.AddIndex(
            model_name="inspection",
            index=models.Index(
                fields=["machine", "stage", "signed_at", "due_on", "closes_on", "signed_by"],
                name="inspection_by_machine",
            ),
        ),
        migrations.AddIndex(
            model_name="inspection",
            index=models.Index(
                fields=["procedure", "stage", "due_on", "closes_on", "machine", "signed_at", "signed_by"],
                name="inspection_by_procedure",
            ),
        ),
        migrations.AddIndex(
            model_name="inspection",
            index=models.Index(
                fields=["technician", "stage", "due_on", "closes_on", "machine", "signed_at", "signed_by"],
                name="inspection_by_technician",
            ),
        ),
    ]
