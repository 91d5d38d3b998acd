"""The retirement review on paper, for a meeting: the summary, the ranked list, the worst machines one by one."""

from reportlab.platypus import KeepTogether, Spacer

from fleet.days import long_date
from fleet.documents import (
    Heading,
    Paper,
    build_pdf,
    caution_box,
    data_table,
    facts,
    figure_line,
    marked,
    text,
    title_block,
)
from fleet.documents.phrases import lower_first
from fleet.drawing import number
from fleet.place_format import counted
from inspections.retirement.computed_exposure import exposure_lines
from inspections.retirement.gathering import in_full
from inspections.review import CRITERIA, STEPS, Conclusion, closing

MOST_RANKED = 200  # a longer list is read on the page
TOP = 12
CAUTIONS = (
    "The review advises. The responsible clinician judges the risk, and the department decides.",
    "Age alone is no reason to retire a machine. A machine need not meet a standard issued after it was made.",
    "The criteria concern gas and vapour delivery, not monitors. The single items are quoted from memory: confirm them "
    "in the guideline before a decision is based on them.",
)
SOURCES = (
    "Criteria: ASA guidelines for determining anesthesia machine obsolescence, 2004 (ASA Newsletter 68(9); apsf.org). "
    "The preamble and the three absolute groups were read, the single items are from memory.",
    "Trend of findings: Laplace test for a rising rate, one-sided, 5 % (NIST Dataplot reference manual, reliability "
    "trends).",
    "Hazard weights and burden weights: local policy, by default those of the catalogue; no published source gives "
    "such numbers.",
)


def write_review(ranked, *, on, asked, made, top=TOP) -> bytes:
    """Return the review on the paper of the place that is shown now.

    ranked  RankedMachine objects, worst first
    asked   conditions as label and value
    top     how many machines are described in detail; those to keep are not
    """
    paper = Paper(
        title="Retirement review",
        reference=f"As of {long_date(on)}",
        subject="Machines against the published obsolescence criteria, with reasons",
        made=made,
    )
    told = [each for each in ranked if each.review.conclusion is not Conclusion.KEEP][:top]
    story = [*_front(ranked, on, asked, paper), *_ranked(ranked, paper), *_told(in_full(told, on), ranked, paper)]
    return build_pdf(paper, [*story, *_sources(ranked)])


def _front(ranked, on, asked, paper):
    counts = [(sum(each.review.conclusion is word for each in ranked), str(word)) for word in Conclusion]
    provisional = sum(each.review.is_provisional for each in ranked)
    figures = [
        (counted(len(ranked)), "machines reviewed"),
        *counts,
        (provisional, "provisional: a criterion is not known"),
    ]
    lead = "Machines that are obsolete by the published criteria or should be considered for replacement, with reasons."
    return [
        *title_block("Retirement review", lead),
        facts([("As of", long_date(on)), *(asked or [("Machines", "All that are not retired")])], paper.width, 4),
        Spacer(1, 8),
        figure_line(figures, paper.width),
        Spacer(1, 10),
        caution_box(CAUTIONS, paper.width),
    ]


def _ranked(ranked, paper):
    if not ranked:
        return [Heading("Ranking"), text("No machine meets these conditions.")]
    rows = [_ranked_row(each) for each in ranked[:MOST_RANKED]]
    head = ["Rank", "Machine", "Conclusion", "Absolute", "Relative", "Not known", "Weight", "Burden"]
    widths = [paper.width * part for part in (0.065, 0.27, 0.185, 0.125, 0.105, 0.1, 0.075, 0.075)]
    note = (
        f"Ranked step by step: {'; '.join(STEPS.values())}. Machines equal in every step share a rank. The burden "
        "(0 to 100) affects the ranking only. The weight counts each hazard once: those "
        "left open by a criterion met, and those left open by the computed gas circuit where the cause is not rare and "
        "a missing safety feature would close it."
    )
    parts = [Heading("Ranking"), text(note, "note"), data_table(head, rows, widths, numbers=(0, 6, 7))]
    if len(ranked) > MOST_RANKED:
        parts.append(text(f"{counted(len(ranked) - MOST_RANKED)} more machines are listed on the review page.", "note"))
    return parts


def _ranked_row(each):
    machine, review = each.machine, each.review
    name = [
        text(f"{machine.asset_number}  {machine.model}", "small-strong"),
        text(f"{machine.area.name}, {machine.site.name}", "note"),
    ]
    conclusion = [marked(str(review.conclusion))]
    if review.is_provisional:
        conclusion.append(text("provisional", "note"))
    return [
        each.place.place,
        name,
        conclusion,
        text(codes(review.absolute_met), "small-alarm"),
        codes(review.relative_met),
        codes(review.open_questions),
        f"{each.place.exposure:.0f}",
        number(each.place.burden, 1),
    ]


def codes(answers):
    """Return the codes of criteria, or a dash."""
    return " ".join(answer.criterion.code for answer in answers) or "–"


def _told(told, ranked, paper):
    if not told:
        return []
    left = sum(each.review.conclusion is not Conclusion.KEEP for each in ranked) - len(told)
    note = "The first machines to retire or replace, each with the criteria it meets and the evidence."
    if left:
        note += f" {left} more such machines are listed on the review page."
    return [
        Heading("Machines in detail"),
        text(note, "note"),
        *(part for each in told for part in _machine(each, paper)),
    ]


def _machine(each, paper):
    machine, review = each.machine, each.review
    head = [
        Heading(f"{each.place.place}. {machine.asset_number} {machine.model}", level=1, key=f"machine-{machine.pk}"),
        text(
            f"{machine.area.name}, {machine.site.name}. {machine.get_status_display()}. "
            f"Built {machine.built_year or 'in an unknown year'}. Weight of the hazards left open: "
            f"{each.place.exposure:.0f}.",
            "note",
        ),
        marked(str(review.conclusion)),
        text(review.summary),
        Spacer(1, 3),
    ]
    criteria = _criteria_table(review, paper)
    circuit = [text(_circuit_words(each), "small"), Spacer(1, 3)]
    return [
        KeepTogether(
            [*head, criteria, Spacer(1, 4), *circuit, *_burden(each), Spacer(1, 3), *_closing(review), Spacer(1, 10)]
        )
    ]


def _circuit_words(each):
    """What the computed circuit leaves open, and which of it counts beside the criteria."""
    if each.review.facts.circuit is None:
        return "Its gas circuit has not been computed: the weight counts the criteria only."
    lines = exposure_lines(each.machine, each.review, each.weighed.weights)
    if not lines:
        return "In the computed gas circuit no analysed single cause leaves a hazard open."
    words = "; ".join(f"{lower_first(line.hazard.name)} ({line.causes}): {line.counts}" for line in lines)
    return f"Hazards left open by its gas circuit (number of causes) and their effect on the weight: {words}."


def _criteria_table(review, paper):
    met = review.absolute_met + review.relative_met
    rows = [[_code(answer.criterion), answer.criterion.says, answer.reason] for answer in met]
    widths = [paper.width * part for part in (0.06, 0.44, 0.5)]
    return data_table(["Met", "Criterion", "This machine"], rows, widths, is_dense=True)


def _code(criterion):
    return text(criterion.code, "small-alarm" if criterion.is_absolute else "small-strong")


def _burden(ranked):
    """The parts that count, one clause each, the heaviest first."""
    weights = ranked.weighed.weights.burden
    parts = sorted(ranked.review.burden.parts, key=lambda part: -part.share * weights[part.part.code])
    counted = [f"{each.part.name.lower()}: {each.evidence.rstrip('.')}" for each in parts if each.share]
    words = "; ".join(counted) or "nothing is recorded"
    return [text(f"Burden {number(ranked.place.burden, 1)} of 100. {words[:1].upper()}{words[1:]}.", "small")]


def _closing(review):
    found = closing(review)
    words = [
        f"{each.criterion.code}: {'remove' if each.feature.is_unwanted else 'fit'} {lower_first(each.feature.name)}"
        for each in found.alterations
    ]
    sentences = []
    if words:
        sentences.append(
            f"Alterations that would close criteria, if the manufacturer's instructions allow them: {'; '.join(words)}."
        )
    if found.left_over:
        sentences.append(f"No alteration closes {', '.join(answer.criterion.code for answer in found.left_over)}.")
    return [text(" ".join(sentences), "small")]


def _sources(ranked):
    weighed = {each.weighed.site.pk: each.weighed.in_words for each in ranked}
    rows = [[each.code, each.says, str(each.decided_by)] for each in CRITERIA.values()]
    return [
        Heading("Criteria and sources"),
        data_table(["Code", "Criterion: met if true", "Based on"], rows, [40, 370, 90]),
        Spacer(1, 6),
        *(text(words, "note") for words in SOURCES),
        *(text(f"Weights in force. {words}", "note") for words in weighed.values()),
    ]
