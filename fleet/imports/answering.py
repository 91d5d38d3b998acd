"""Store the answers of a person to what values of a file mean, and make the sites, areas and models that it names."""

from dataclasses import dataclass, field, replace

from django.db import transaction

from fleet.acting.scope import journal_actions
from fleet.actions import add_area, add_model, add_site
from fleet.errors import RegisterRefused
from fleet.models import Area, MachineModel, Site, ValueMeaning
from fleet.models.free_codes import free_code
from fleet.register_file.spellings import plain


@dataclass(frozen=True)
class Answer:
    """What a person said about one value.

    means     word of the register; "" for a blank cell; None if it is given no meaning
    is_right  the value is right as it is written
    left_out  rows that are left out of this file
    new       fields of the site, area or machine model to be made, for which the value then stands
    """

    column: str
    value: str
    within: str = ""
    means: str | None = None
    is_right: bool = False
    left_out: tuple[int, ...] = ()
    new: dict = field(default_factory=dict)

    @property
    def names_itself(self):
        """Whether what is made bears the very name that the file has, so that no meaning is needed."""
        name = f"{self.new.get('manufacturer', '')} {self.new.get('name', '')}"
        return bool(self.new) and plain(name) == plain(self.value)


@transaction.atomic
def answer_values(upload, answers, *, by, at):
    """Store answers, so that the file is read with them. Raise RegisterRefused for a name that is taken meanwhile."""
    left_out = set(upload.read_settings.left_out)
    for answer in answers:
        left_out |= set(answer.left_out)
        means = _made(answer, by, at) if answer.new else answer.means
        if answer.is_right or (means is not None and not answer.names_itself):
            _remember(upload, answer, means or "", by, at)
    upload.settings = replace(upload.read_settings, left_out=sorted(left_out)).as_json()
    upload.snapshot = None
    upload.save(update_fields=["settings", "snapshot"])
    return len(answers)


def _remember(upload, answer, means, by, at):
    site = Site.objects.get(code=answer.within) if answer.column == "area" else None
    ValueMeaning.objects.update_or_create(
        kind=upload.kind,
        site=site,
        column=answer.column,
        written=plain(answer.value)[:200],
        defaults={"meaning": means, "is_right": answer.is_right, "by": by, "said_at": at},
    )


def _made(answer, by, at):
    """Make what the answer asks for and return the word by which files name it."""
    return {"site": _made_site, "area": _made_area, "model": _made_model}[answer.column](answer, {"by": by, "at": at})


def _made_site(answer, who):
    name = answer.new["name"]
    if Site.objects.filter(name__iexact=name).exists():
        raise RegisterRefused(f"There is a site called {name} already. Choose it instead of making it.")
    return add_site(code=free_code(Site, name, 20), **answer.new, **who).code


def _made_area(answer, who):
    site, name = Site.objects.get(code=answer.within), answer.new["name"]
    if Area.objects.filter(site=site, name__iexact=name).exists():
        raise RegisterRefused(f"There is an area {name} of {site} already. Choose it instead of making it.")
    return add_area(site, name=name, **who).name


def _made_model(answer, who):
    new = answer.new
    if MachineModel.objects.filter(manufacturer__iexact=new["manufacturer"], name__iexact=new["name"]).exists():
        raise RegisterRefused(f"There is a model {new['manufacturer']} {new['name']} already. Choose it instead.")
    return add_model(code=free_code(MachineModel, f"{new['manufacturer']} {new['name']}", 40), **new, **who).code


@transaction.atomic
def forget_meaning(meaning, *, by, at):
    """Forget what a value means: it is asked about again. Raise RegisterRefused if somebody did so already."""
    if not ValueMeaning.objects.filter(pk=meaning.pk).delete()[0]:
        raise RegisterRefused(f"What “{meaning.written}” means is forgotten already.")


ACTIONS = ("answer_values", "forget_meaning")
journal_actions(globals(), ACTIONS)
