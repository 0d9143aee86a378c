"""Sections that reports of every kind share: remarks, budget, next steps, where it comes from, signing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from calmday.reports.run_sheet import SAID_ABOVE
from calmday.reports.run_tables import SMALL_SHARE
from calmday.reports.sheet import Column, Table
from calmday.reports.show.document import Block, Facts, Item, Listing, Mark, Paragraph, Section, Signing
from calmday.reports.words import clean, duration, number, unit_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from calmday.procedures.weighed_run_result import BudgetLine, Flag, Provenance
    from calmday.procedures.what_next import NextStep
    from calmday.reports.show.objections import Objection

ON_FRONT: Final = 3
"""Cautions and next steps on the first page; all of them stand on the second."""

LONGEST_QUESTION: Final = 300


def asked(question: str, usual: str) -> str:
    """The question as printed: what the user asked, or the usual one."""
    return shortened(clean(question), LONGEST_QUESTION) or usual


def shortened(text: str, most: int) -> str:
    """A text of at most `most` characters, an ellipsis where something went."""
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def stop_items(flags: Iterable[Flag]) -> Listing | None:
    """What says that the result must not be used; None where nothing does."""
    items = tuple(_flag_item(flag, whole=True) for flag in flags if flag.severity == "stop")
    return Listing(items) if items else None


def front_cautions(flags: Sequence[Flag]) -> Section | None:
    """The first cautions, what we saw and what to do; the reasons stand on the second page."""
    cautions = [flag for flag in flags if flag.severity == "caution"]
    if not cautions:
        return None
    blocks: list[Block] = [Listing(tuple(_flag_item(flag, whole=False) for flag in cautions[:ON_FRONT]))]
    more = len(cautions) - ON_FRONT
    if more > 0:
        blocks.append(Paragraph(f"{more} more on the pages for critics." if more > 1 else _ONE_MORE, "small"))
    return Section(title="Take care", blocks=tuple(blocks), rank=1)


_ONE_MORE: Final = "One more on the pages for critics."


def all_flags(flags: Sequence[Flag], notes: Sequence[str]) -> Section | None:
    """Every remark whole, stops first, and what was assumed or put right."""
    order = ("stop", "caution", "note")
    ranked = [flag for severity in order for flag in flags if flag.severity == severity and flag.code != SAID_ABOVE]
    items = [_flag_item(flag, whole=True) for flag in ranked]
    items += [Item(text=f"{line[:1].upper()}{line[1:].rstrip('.')}.") for line in map(clean, notes)]
    return Section(title="Every remark", blocks=(Listing(tuple(items)),)) if items else None


_MARK: Final[dict[str, Mark]] = {"stop": "stop", "caution": "caution", "note": "note"}


def _flag_item(flag: Flag, *, whole: bool) -> Item:
    saw, why, remedy = _sentence(flag.saw), _sentence(flag.why), _sentence(flag.remedy)
    rest = f"{why} To do: {remedy}" if whole else remedy
    return Item(lead=saw, text=rest.strip(), mark=_MARK[flag.severity])


def _sentence(text: str) -> str:
    text = clean(text)
    return text if not text or text.endswith((".", "!", "?")) else f"{text}."


def better(steps: Sequence[NextStep]) -> Section:
    """What would narrow the figure, the most for an hour's work first."""
    if not steps:
        said = "Nothing here would narrow the figure by more than a few per cent: more runs, or leave it at that."
        return Section(title="What would make it better", blocks=(Paragraph(said),), rank=2)
    items = tuple(
        Item(
            lead=f"{clean(step.what)}, about {_about(step.minutes)}.",
            text=f"Give or take {_halves(step)} {unit_words(step.unit)}.",
        )
        for step in steps[:ON_FRONT]
    )
    return Section(title="What would make it better", blocks=(Listing(items, ordered=True),), rank=2)


def _about(minutes: float) -> str:
    return f"{minutes:.0f} min" if minutes < 60 else duration(60 * round(minutes))


def _halves(step: NextStep) -> str:
    for places in (1, 2, 3):
        now, then = number(step.half_width_now, places), number(step.half_width_then, places)
        if now != then:
            return f"{now} would become {then}"
    return f"{now} would hardly change"


def objection_section(found: Sequence[Objection]) -> Section:
    """What people will say, with the answers."""
    items = tuple(
        Item(lead=f"“{each.says}”", text=each.answer, mark="fair" if each.fair else "answer") for each in found
    )
    title = f"{_COUNT.get(len(items), str(len(items)))} things people will say"
    return Section(title=title, blocks=(Listing(items, ordered=True),))


_COUNT: Final = {1: "One", 2: "Two", 3: "Three", 4: "Four", 5: "Five"}


def budget_table(budget: Sequence[BudgetLine], title: str) -> Table | None:
    """Every source of doubt worth a line with what it contributes and its share of the variance."""
    if not budget:
        return None
    unit = unit_words(budget[0].contribution.unit)
    large = [line for line in budget if line.share >= SMALL_SHARE] or budget[:1]
    rows = tuple(
        (clean(line.source), number(line.contribution.value, 3), f"{100 * line.share:.0f} %") for line in large
    )
    hidden = len(budget) - len(large)
    note = f"{hidden} more below half a percent each; result.json has them all." if hidden > 0 else ""
    columns = (Column("source", wrap=True), Column(f"±1 sd, {unit}", "right"), Column("share", "right"))
    return Table(title=title, columns=columns, rows=rows, note=note)


def provenance(made: Provenance, draws: int, inputs: Mapping[str, str], configuration: str, note: str = "") -> Section:
    """What produced the figures, so that anyone can produce them again."""
    pairs = [
        ("program", f"{made.program} {made.version}"),
        ("simulated vehicles", f"{number(draws, 0)}, seed {made.seed}"),
        ("configuration", configuration),
        ("data digest", made.inputs_sha256),
    ]
    rows = tuple((clean(name), sha256) for name, sha256 in sorted(inputs.items()))
    columns = (Column("file", wrap=True), Column("SHA-256", wrap=True))
    said = "The data digest is SHA-256 over name and SHA-256 of every file, in the order of their names."
    blocks: list[Block] = [
        Facts(tuple(pair for pair in pairs if pair[1])),
        Table(title="", columns=columns, rows=rows, note=said),
    ]
    if note:
        blocks.append(Paragraph(note))
    return Section(title="Where it comes from", blocks=tuple(blocks))


def signing(configuration: str, digest: str) -> Section:
    """Where to sign, and what the signature is under."""
    told = (("Configuration", configuration), ("Data digest", digest[:16]))
    under = Facts(tuple((what, how) for what, how in told if how))
    return Section(title="", blocks=(under, Signing(("Name", "Signature", "Date"))))
