"""Changes of a gas circuit: place of a component, connections made and disconnected, changes undone."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.catalogue import COMPONENT_KINDS
from fleet.circuit.structure import Port
from fleet.forms.components import ComponentForm, UpToToday
from fleet.forms.fields import day_field

EVIDENCE_HELP = "For example “Work order 4711” or “Seen on the machine”."


class ChangeForm(UpToToday, forms.Form):
    """Fields of every change: a day, evidence, and the version of the circuit seen."""

    on = day_field("Done on")
    evidence = forms.CharField(max_length=300, help_text=EVIDENCE_HELP)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_on(self):
        return self.check_day("on")

    def clean_seen(self):
        return self.cleaned_data["seen"] or None


class CircuitComponentForm(ComponentForm):
    """A component to fit to a machine with a circuit: its place, and the evidence."""

    evidence = forms.CharField(max_length=300, help_text=EVIDENCE_HELP)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args, circuit, between="", **kwargs):
        super().__init__(*args, **kwargs)
        connections = [("", "no connection"), *connection_choices(circuit)]
        self.lanes = lanes_of(self.kind)
        for port_in, port_out in self.lanes:
            self.fields[f"between_{port_in}"] = forms.ChoiceField(
                label="Insert into connection" + (f" ({port_in}, {port_out})" if len(self.lanes) > 1 else ""),
                choices=connections,
                required=False,
                initial=between if len(self.lanes) == 1 else "",
                help_text="The component is then between the two.",
            )
        places = [("", "left open"), *port_choices(circuit)]
        for port in self.kind.ports:
            self.fields[f"join_{port}"] = forms.ChoiceField(
                label=f"Port “{port}” connected to", choices=places, required=False
            )

    def clean_seen(self):
        return self.cleaned_data["seen"] or None

    def clean(self):
        cleaned = super().clean()
        for lane in self.lanes:
            for port in lane:
                if cleaned.get(f"between_{lane[0]}") and cleaned.get(f"join_{port}"):
                    self.add_error(f"join_{port}", "Leave this open: the connection chosen above sets it.")
        return cleaned

    @property
    def place_fields(self):
        return [field for field in self.visible_fields() if field.name.startswith(("between_", "join_"))]

    @property
    def main_fields(self):
        return [field for field in super().main_fields if field not in self.place_fields]

    def details(self):
        """Return the arguments of `fit_component` to put the component into the circuit."""
        between, joins = [], {}
        for port_in, port_out in self.lanes:
            if connection := self.cleaned_data.get(f"between_{port_in}"):
                between.append((*connection_from(connection), port_in, port_out))
        for port in self.kind.ports:
            if place := self.cleaned_data.get(f"join_{port}"):
                joins[port] = port_from(place)
        more = {"evidence": self.cleaned_data["evidence"], "seen": self.cleaned_data["seen"]}
        return {**super().details(), **more, "between": between, "joins": joins}


class ReplacementForm(ComponentForm):
    """A replacement of a fitted component, with the connections of the old one."""

    evidence = forms.CharField(max_length=300, help_text=EVIDENCE_HELP)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def clean_seen(self):
        return self.cleaned_data["seen"] or None

    def details(self):
        details = {**super().details(), "evidence": self.cleaned_data["evidence"], "seen": self.cleaned_data["seen"]}
        del details["kind"]
        return {"on": details.pop("fitted_on"), **details}


class TakeOutForm(ChangeForm):
    bridge = forms.ChoiceField(
        label="Its neighbours",
        choices=[("yes", "are connected directly: gas flows where the component was"), ("no", "stay open")],
        widget=forms.RadioSelect,
        initial="yes",
    )

    def clean_bridge(self):
        return self.cleaned_data["bridge"] == "yes"

    def details(self):
        """Return the arguments of `take_out_component`."""
        details = dict(self.cleaned_data)
        return {"removed_on": details.pop("on"), **details}


class JoinForm(ChangeForm):
    source = forms.ChoiceField(label="From", help_text="The upstream side in ordinary use.")
    target = forms.ChoiceField(label="To")
    size = forms.CharField(
        label="Connector", max_length=40, required=False, help_text="At the end of a hose, for example “22 mm”."
    )
    field_order = ["source", "target", "size", "on", "evidence", "seen"]

    def __init__(self, *args, circuit, **kwargs):
        super().__init__(*args, **kwargs)
        for name in ("source", "target"):
            self.fields[name].choices = [("", "Choose a port"), *port_choices(circuit)]

    def clean_source(self):
        return port_from(self.cleaned_data["source"])

    def clean_target(self):
        return port_from(self.cleaned_data["target"])

    def clean(self):
        cleaned = super().clean()
        source, target = cleaned.get("source"), cleaned.get("target")
        if source and target and source.component == target.component:
            raise ValidationError("Both ports belong to the same component. Choose two components.")
        return cleaned


class DisconnectForm(ChangeForm):
    connection = forms.ChoiceField(label="Connection")
    field_order = ["connection", "on", "evidence", "seen"]

    def __init__(self, *args, circuit, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["connection"].choices = [("", "Choose a connection"), *connection_choices(circuit)]

    def clean_connection(self):
        return connection_from(self.cleaned_data["connection"])

    def details(self):
        """Return the arguments of `disconnect_ports`."""
        details = dict(self.cleaned_data)
        source, target = details.pop("connection")
        return {**details, "source": source, "target": target}


class UndoForm(forms.Form):
    reason = forms.CharField(max_length=300, help_text="Why the entry was wrong. It stays readable, with this reason.")
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def clean_seen(self):
        return self.cleaned_data["seen"] or None


def lanes_of(kind):
    """Return (port in, port out) of each gas path through a component of this kind."""
    pairs = [("in", "out")]
    pairs += [(port, f"{port[:-3]}-out") for port in kind.ports if port.endswith("-in")]
    return [pair for pair in pairs if set(pair) <= set(kind.ports)]


def port_choices(circuit):
    """Return (value, words) of every port of the circuit, by component."""
    return [
        (component.label, [(f"{component.code}.{port}", f"{component.label}: {port}") for port in COMPONENT_KINDS[component.kind].ports])
        for component in circuit.components
        if COMPONENT_KINDS[component.kind].ports
    ]


def connection_choices(circuit):
    """Return (value, words) of every connection of the circuit."""
    labels = {component.code: component.label for component in circuit.components}
    return [(connection_key(connection), connection_words(connection, labels)) for connection in circuit.connections]


def connection_key(connection):
    return f"{connection.source}>{connection.target}"


def connection_words(connection, labels):
    size = f", {connection.size}" if connection.size else ""
    source, target = connection.source, connection.target
    return f"{labels[source.component]} ({source.name}) to {labels[target.component]} ({target.name}){size}"


def port_from(text):
    return Port(*text.rsplit(".", 1))


def connection_from(text):
    source, target = text.split(">")
    return port_from(source), port_from(target)
