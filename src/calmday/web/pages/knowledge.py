"""What is known of a vehicle from all its tests, and the small measurements that belong to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.reports.json_result import readable
from calmday.reports.knowledge_sheet import knowledge_sheet
from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view
from calmday.web.evidence_fields import KINDS
from calmday.web.jobs import wait
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, go, subject, vehicle_of
from calmday.web.pages.documents import (
    DocumentLine,
    FormView,
    document_of,
    documents_of,
    form_view,
    keep_document,
    lines,
    spec_of,
)
from calmday.web.pages.long_work import PATIENCE_S
from calmday.web.render import Context, page

if TYPE_CHECKING:
    from calmday.logbook.records import StoredResult, Subject
    from calmday.procedures.knowledge_result import KnowledgeResult
    from calmday.web.asked import Asked
    from calmday.web.pages.saving import Kept

NOTHING_YET = "Nothing has been put together yet: every run, coastdown and small measurement tells about one vehicle."
TASK = "know"


class KnowledgePage(Context, frozen=True, kw_only=True):
    """Everything known of a vehicle, its small measurements, and the button that puts it together anew.

    `kinds` of small measurements by value and words."""

    template: ClassVar[str] = "knowledge.html"
    sentence: str
    stale: bool
    failed: tuple[str, ...]
    charts: tuple[ChartView, ...]
    blocks: tuple[BlockView, ...]
    json: str
    found: tuple[DocumentLine, ...]
    kinds: tuple[tuple[str, str], ...]
    work: str
    counts: tuple[tuple[str, str], ...]


class EvidencePage(Context, frozen=True, kw_only=True):
    """One small measurement, to fill in. `home` where what is known of the vehicle stands."""

    template: ClassVar[str] = "evidence.html"
    form: FormView
    home: str


def knowledge(asked: Asked) -> Response:
    """What is known of a vehicle."""
    from calmday.operations.logbook.coastdowns import (  # noqa: PLC0415  (with the database layer)
        knowledge_is_stale,
        knowledge_result_of,
        tests_of_vehicle,
    )

    vehicle = vehicle_of(asked)
    stored = _newest(asked, vehicle)
    result = readable(knowledge_result_of, stored)
    shown = knowledge_sheet(result) if result is not None else None
    tests = tests_of_vehicle(asked.desk.book, vehicle.id)
    names = {"run": "Weighed runs", "coastdown": "Days of coastdowns", "evidence": "Small measurements"}
    job = asked.desk.jobs.last_of(vehicle.id, TASK)
    failed = job.faults if job is not None and job.state == "failed" else ()
    return page(
        KnowledgePage(
            frame=frame(asked, "What do we know of it?", tab="knowledge", vehicle=vehicle, wide=True),
            sentence=shown.lead if shown is not None else NOTHING_YET,
            stale=stored is not None and knowledge_is_stale(asked.desk.book, vehicle.id, stored),
            failed=tuple(words for _, words in failed),
            charts=_charts(result) if result is not None else (),
            blocks=tuple(block for block in blocks_of(shown) if block.kind != "bars") if shown is not None else (),
            json=address("knowledge_json", vehicle=vehicle.id) if stored is not None else "",
            found=lines(spec_of("evidence"), documents_of(asked, "evidence", vehicle.id)),
            kinds=KINDS,
            work=address("knowledge_work", vehicle=vehicle.id),
            counts=tuple((names[kind], str(len(ids))) for kind, ids in tests.items()),
        )
    )


def _newest(asked: Asked, vehicle: Subject) -> StoredResult | None:
    from calmday.operations.logbook.coastdowns import newest_knowledge  # noqa: PLC0415

    return newest_knowledge(asked.desk.book, vehicle.id)


def _charts(result: KnowledgeResult) -> tuple[ChartView, ...]:
    from calmday.reports.charts.knowledge import ladder_charts, next_chart, ties_chart  # noqa: PLC0415
    from calmday.reports.charts.parameters import parameters_chart  # noqa: PLC0415

    learnt = {one.key: one.estimate for one in result.parameters if one.narrowed_to < 0.97}
    drawn = (
        parameters_chart(learnt, "tests") if learnt else None,
        *ladder_charts(result),
        ties_chart(result),
        next_chart(result),
    )
    return tuple(chart_view(chart) for chart in drawn if chart is not None)


def knowledge_work(asked: Asked) -> Response:
    """Put everything together anew."""
    vehicle = vehicle_of(asked)
    job = asked.desk.jobs.start(vehicle.id, TASK)
    if wait(job, PATIENCE_S):
        return go("knowledge", vehicle=vehicle.id)
    return go("job", job=job.id)


def knowledge_json(asked: Asked) -> Response:
    """What is known as `calmday know --json` prints it."""
    stored = _newest(asked, vehicle_of(asked))
    if stored is None:
        raise HTTPException(404)
    return Response(stored.content, media_type="application/json")


def evidence(asked: Asked) -> Response:
    """One small measurement, to fill in."""
    found, spec = document_of(asked, "evidence"), spec_of("evidence")
    if asked.posted:
        kept = keep_document(asked, found, spec)
        return _evidence(asked, found, kept) if kept.faults else go("evidence", document=found.id, done="saved")
    return _evidence(asked, found)


def _evidence(asked: Asked, found: Subject, kept: Kept | None = None) -> Response:
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    return page(
        EvidencePage(
            frame=frame(asked, found.name or "Measurement without a name", tab="knowledge", vehicle=vehicle),
            form=form_view(asked, found, spec_of("evidence"), kept=kept),
            home=address("knowledge", vehicle=found.parent) if found.parent else "",
        ),
        422 if kept is not None and kept.faults else 200,
    )
