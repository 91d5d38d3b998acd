import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """Tokens that exist were handed out when nobody asked their owners: they stay accepted and are marked as such."""

    dependencies = [("fleet", "0018_second_person")]

    operations = [
        migrations.AddField(
            model_name="apitoken",
            name="confirmed_at",
            field=models.DateTimeField(
                editable=False,
                help_text="When the owner confirmed it; until then it is accepted nowhere.",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="apitoken",
            name="predates_confirmation",
            field=models.BooleanField(
                default=True,
                editable=False,
                help_text="Handed out when owners were not asked yet. It stays accepted until its owner revokes it.",
            ),
        ),
        migrations.AlterField(
            model_name="apitoken",
            name="predates_confirmation",
            field=models.BooleanField(
                default=False,
                editable=False,
                help_text="Handed out when owners were not asked yet. It stays accepted until its owner revokes it.",
            ),
        ),
        migrations.AlterField(
            model_name="apitoken",
            name="digest",
            field=models.CharField(blank=True, editable=False, max_length=64, null=True, unique=True),
        ),
        migrations.AlterField(
            model_name="apitoken",
            name="start",
            field=models.CharField(blank=True, editable=False, max_length=16),
        ),
        migrations.AddField(
            model_name="changeentry",
            name="token",
            field=models.ForeignKey(
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="fleet.apitoken",
            ),
        ),
        migrations.AddField(
            model_name="person",
            name="sessions_ended",
            field=models.PositiveIntegerField(
                default=0, editable=False, help_text="How often every session of the account was ended."
            ),
        ),
    ]
