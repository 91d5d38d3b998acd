"""Prices and costs: one form for each kind of amount. The currency is that of the site, or chosen for a model."""

from django import forms

from fleet.catalogue.currencies import CURRENCY_DIGITS, currency_choices, in_smallest_units
from fleet.forms.fields import DecimalNumberField, day_field
from fleet.models import Machine, MachineModel, Site, SiteCurrency
from fleet.models.money import feature_choices

MOST = 999_999_999_999
SOURCE = "Where the figure is from, such as the invoice or the quotation, with its date."


def amount_field(label, *, low=0, **options):
    return DecimalNumberField(label=label, min_value=low, max_value=MOST, max_digits=15, decimal_places=3, **options)


class AmountForm(forms.Form):
    """What every amount needs. `amounts` names the fields that hold money."""

    amounts = ("price",)
    source = forms.CharField(max_length=200, help_text=SOURCE)

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        for name, rows in (("site", Site.objects.visible_to(person)), ("model", MachineModel.objects.all())):
            if name in self.fields:
                self.fields[name].queryset = rows
        self.person = person

    def site_of(self, data):
        """Return the site whose currency counts; None where the form asks for the currency."""
        return data.get("site") or (data["machine"].site if data.get("machine") else None)

    def clean_machine(self):
        text = (self.cleaned_data["machine"] or "").strip()
        if not text:
            return None
        machine = Machine.objects.visible_to(self.person).with_place().filter(asset_number=text).first()
        if machine is None:
            raise forms.ValidationError(f"“{text}” is no machine that you may see. Enter its asset number.")
        return machine

    def clean(self):
        data = super().clean()
        site = self.site_of(data)
        if site is not None:
            data["currency"] = self._currency_of(site)
        self._check_digits(data)
        return data

    def _currency_of(self, site):
        held = SiteCurrency.objects.filter(site=site).first()
        if held is None:
            raise forms.ValidationError(f"No currency is chosen for {site} yet. Choose it first, under Currencies.")
        return held.currency

    def _check_digits(self, data):
        for name in self.amounts:
            if data.get(name) is not None and data.get("currency") in CURRENCY_DIGITS:
                try:
                    in_smallest_units(data[name], data["currency"])
                except ValueError as error:
                    self.add_error(name, f"{error}.")


class MachineField(forms.CharField):
    def __init__(self, **options):
        super().__init__(max_length=40, label=options.pop("label", "Asset number of the machine"), **options)


class CurrencyField(forms.ChoiceField):
    def __init__(self):
        super().__init__(choices=[("", "Choose a currency"), *currency_choices()], help_text="Code of ISO 4217.")


class PurchaseForm(AmountForm):
    machine = MachineField()
    bought_on = day_field("Bought on", required=False, help_text="Leave empty if not known.")
    price = amount_field("Price", required=False, help_text="In the currency of the site. Leave empty if not known.")
    field_order = ["machine", "bought_on", "price", "source"]

    def clean(self):
        data = super().clean()
        if not self.errors and data.get("bought_on") is None and data.get("price") is None:
            raise forms.ValidationError("Enter the day, the price, or both.")
        return data


class ReplacementPriceForm(AmountForm):
    model = forms.ModelChoiceField(MachineModel.objects.none(), label="In place of a machine of model")
    price = amount_field("Price of a new machine", low=1)
    currency = CurrencyField()
    priced_on = day_field("Date of the price")
    field_order = ["model", "price", "currency", "priced_on", "source"]


class ContractForm(AmountForm):
    amounts = ("yearly_cost",)
    machine = MachineField(required=False, help_text="Or leave this empty and choose model and site.")
    model = forms.ModelChoiceField(MachineModel.objects.none(), required=False, empty_label="One machine only")
    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label="One machine only")
    provider = forms.CharField(max_length=100)
    yearly_cost = amount_field("Cost for each machine and year", help_text="In the currency of the site.")
    from_date = day_field("First day")
    until_date = day_field("Last day", required=False, help_text="Leave empty while no end is agreed.")
    field_order = ["machine", "model", "site", "provider", "yearly_cost", "from_date", "until_date", "source"]

    def clean(self):
        data = super().clean()
        if "machine" in self.errors:
            return data
        if bool(data.get("machine")) == bool(data.get("model")) or bool(data.get("model")) != bool(data.get("site")):
            raise forms.ValidationError("Enter either one machine, or a model together with a site.")
        if data.get("until_date") and data.get("from_date") and data["until_date"] < data["from_date"]:
            self.add_error("until_date", "The last day is before the first.")
        return data


class RateForm(AmountForm):
    amounts = ("hour_cost",)
    site = forms.ModelChoiceField(Site.objects.none())
    hour_cost = amount_field("Cost of one hour of work", low=1, help_text="In the currency of the site.")
    from_date = day_field("From")
    field_order = ["site", "hour_cost", "from_date", "source"]


class SparePartForm(AmountForm):
    amounts = ("cost",)
    machine = MachineField()
    what = forms.CharField(max_length=200, label="What was bought")
    cost = amount_field("Cost", help_text="In the currency of the site.")
    bought_on = day_field("Bought on")
    field_order = ["machine", "what", "cost", "bought_on", "source"]


class AlterationPriceForm(AmountForm):
    feature = forms.ChoiceField(
        choices=lambda: [("", "Choose a safety feature"), *feature_choices()],
        label="Alteration: fit, or take off if unwanted",
    )
    model = forms.ModelChoiceField(
        MachineModel.objects.none(), required=False, empty_label="Any model", label="On machines of model"
    )
    price = amount_field("Price for each machine", help_text="Bought work and components, without own hours.")
    currency = CurrencyField()
    minutes = forms.IntegerField(
        min_value=0, max_value=10_000, label="Minutes of own work on each machine", help_text="With the test after it."
    )
    priced_on = day_field("Date of the price")
    field_order = ["feature", "model", "price", "currency", "minutes", "priced_on", "source"]


class SiteCurrencyForm(forms.Form):
    site = forms.ModelChoiceField(Site.objects.none())
    currency = CurrencyField()

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = Site.objects.visible_to(person)


class WithdrawAmountForm(forms.Form):
    reason = forms.CharField(max_length=300, help_text="Why the amount is wrong or counts no longer.")
