"""The words that lie beside a report: what is in its folder, what may be shown, and how to repeat the figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from calmday.reports.words import clean

REPEAT = "repeat"
RESULT = "result.json"
HOW = "how-to-repeat.txt"
ABOUT = "README.txt"


def how_to_repeat(
    command: str, version: str, result_sha256: str, inputs: Mapping[str, str], digest: str, cut: str = ""
) -> bytes:
    """How to get the same result again, to the last digit. `cut` what was left out of the tracks, in words."""
    names = [clean(name) for name in sorted(inputs)]
    listed = [f"  {sha256}  {name}" for name, sha256 in zip(names, (inputs[n] for n in sorted(inputs)), strict=True)]
    if cut:
        lines = [
            "These files do not give the same figures again: the tracks are cut.",
            "",
            f"{cut}",
            "",
            f"{RESULT} holds the figures of the whole drive. They came from the whole files with this command:",
            "",
            f"  {command}",
            "",
            "Whoever has the whole files can prove it by the digests below.",
        ]
    else:
        lines = [
            "To get the same figures again, in this folder:",
            "",
            f"  {command}",
            "",
            f"What it prints is {RESULT}, byte for byte, with calmday {version} on this kind of computer.",
            "Elsewhere the last digits of sixteen may differ; what is printed on a sheet does not.",
        ]
    lines += ["", f"SHA-256 of {RESULT}:", f"  {result_sha256}", "", "SHA-256 of every file read:", *listed]
    lines += [
        "",
        "Data digest, SHA-256 over name, zero byte, SHA-256 and line break of each, in order of names:",
        f"  {digest}",
    ]
    return _text(lines)


def about_folder(question: str, names: Sequence[str], home_cut: str) -> bytes:
    """What lies in the folder of a report, and what of it may be shown."""
    told = {
        "report.pdf": "the report: one page for everybody, then the pages for critics",
        "report.html": "the same words for a screen, dark or light; nothing in it is fetched from elsewhere",
        "pictures": "still frames for a film, wide (16:9) and tall (9:16), and their captions",
        "tables": "the figures for a spreadsheet; columns.csv says what every column means",
    }
    there = [f"  {name:<13}{words}" for name, words in told.items() if any(n.split("/")[0] == name for n in names)]
    where = (
        f"  {REPEAT + '/':<13}what the figures rest on, made ready to give away: {home_cut}"
        if home_cut
        else f"  {REPEAT + '/':<13}what the figures rest on, and how to repeat them"
    )
    private = [
        "",
        "To be kept:",
        where,
        "",
        f"The tracks in {REPEAT}/ show where you drove, and so perhaps where you live. To hand the folder on whole,",
        "make the report again with --cut-home.",
    ]
    shape = (
        "No place on the map stands in anything to be shown: the road is drawn as a shape, without coordinates."
        " Somebody who tries may still know a road by its shape."
    )
    return _text(
        [clean(question), "", "To be shown:", *there, *([where] if home_cut else []), "", shape]
        + ([] if home_cut else private)
    )


def _text(lines: Sequence[str]) -> bytes:
    return ("\r\n".join(lines) + "\r\n").encode()
