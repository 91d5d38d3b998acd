"""The first day of an invented department in a browser: from an empty installation to the first opened inspection.

Clicks and answers are counted. Typing, pasting and choosing from a list by keyboard are no clicks; each choice of what
a value means is an answer.
"""

from dataclasses import dataclass, field

from tests.messy_register import AREAS, MODELS, SITES

PEOPLE = "Ada;Byrne;ada;;technician\nBo;Ek;bo;;manager\n"
KINDS = {
    "Hallborne Three": "three-gas",
    "Hallborne Link": "with-ratio-protection",
    "Penrick Vent 200": "with-ventilator",
    "Penrick Mix": "electronically-mixed",
}
QUESTION = "table.data tbody tr"


def places_text():
    """The places of the register as a pasted list."""
    lines = [f"{site};{area};1;40;Europe/Lisbon" for site in SITES for area in AREAS]
    return "\n".join(lines)


@dataclass
class Walk:
    """One walk through the pages; `log` names every click."""

    page: object
    password: str
    shots: str = ""  # folder for a picture of each page before it is left
    answers: int = 0
    log: list[str] = field(default_factory=list)

    @property
    def clicks(self):
        return len(self.log)

    def click(self, what, *, role="button", exact=False):
        self.log.append(what)
        self._shoot()
        with self.page.expect_navigation():
            self.page.get_by_role(role, name=what, exact=exact).first.click()

    def _shoot(self):
        if self.shots:
            self.page.screenshot(path=f"{self.shots}/{self.clicks:02d}.png", full_page=True)

    def home(self):
        self.click("Home", role="link", exact=True)

    def paste(self, step, text, save):
        self.click(step, role="link")
        self.page.get_by_label("List").fill(text)
        self.click("Look at the list")
        self.click(save)
        self.home()

    def look_at_limits(self):
        """Confirm the first limit of the list."""
        self.click("Look at the limits", role="link")
        self.log.append("Confirm")
        with self.page.expect_navigation():
            self.page.locator("#published a.button", has_text="Confirm").first.click()
        self.page.get_by_label("Looked up in").fill("ISO 80601-2-13:2022, page 40")
        self.page.get_by_label("Reason").fill("Decided by the department on its first day.")
        self.page.get_by_label("password").fill(self.password)
        self.click("Confirm the limit")
        self.home()

    def import_register(self, content):
        self.click("Import the register", role="link")
        self.log.append("choose the file")
        file = {"name": "register.csv", "mimeType": "text/csv", "buffer": content}
        self.page.get_by_label("File").set_input_files(file)
        self.click("Preview the changes")
        if "is read" in self.page.title():
            self.click("Preview the changes")
        rounds = 0
        while (asked := self.page.get_by_role("link", name="Answer")).count() and rounds < 3:
            rounds += 1
            self.log.append("Answer the questions")
            with self.page.expect_navigation():
                asked.first.click()
            self.click("Fill in the likely answers", role="link")
            self._answer()
            self.click("Save the answers")
        self.click("Import the")
        self.home()

    def _answer(self):
        """Choose what each value means that has no likely answer; count every value that has one."""
        for row in self.page.locator(QUESTION).all():
            choice = row.locator("select").first
            if choice.input_value() == "":
                self._choose(row, choice)
            if choice.input_value() != "" or (row.locator("input[name$=-text]").count() and self._text(row)):
                self.answers += 1

    def _text(self, row):
        return row.locator("input[name$=-text]").first.input_value()

    def _choose(self, row, choice):
        value, column = (row.locator("td").nth(place).inner_text().strip() for place in (0, 1))
        offered = choice.locator("option").evaluate_all("all => all.map((one) => one.value)")
        if column == "model" and "=new" in offered and self._names(value):
            self._new_model(row, choice, self._names(value))
        for wanted in ("=as", "=blank"):
            if column != "model" and wanted in offered:
                choice.select_option(wanted)
                return

    def _names(self, value):
        return next((name for name, spellings in MODELS.items() if value in (name, *spellings)), None)

    def _new_model(self, row, choice, name):
        """Make the model under its own name, once; its other spellings are answered in the next round."""
        made = getattr(self, "made", set())
        self.made = made
        if name in made:
            if name in choice.locator("option").all_inner_texts():
                choice.select_option(label=name)
            return
        made.add(name)
        manufacturer, _, rest = name.partition(" ")
        choice.select_option("=new")
        row.locator("input[name$=-manufacturer]").fill(manufacturer)
        row.locator("input[name$=-name]").fill(rest)
        row.locator("select[name$=-kind]").select_option(KINDS[name])

    def do(self, content):
        """Walk the whole day with the register `content`. Return the address of the opened inspection."""
        self.paste("Paste people", PEOPLE, "Add 2 people")
        self.paste("Paste sites and areas", places_text(), "Save ")
        self.click("Load the procedures")
        self.look_at_limits()
        self.import_register(content)
        self.click("Plan what falls due")
        if self.page.get_by_role("button", name="Level ").count():
            self.click("Level ")
        self.home()
        self.click("Open that of", role="link")
        self.click("Start")
        return self.page.url
