"""Lots and their analyses: what is held, a laboratory's table brought in, what each name was taken for, and keeping it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from fizzwright.catalogue import open_workshop
from fizzwright.catalogue.analysis.columns import ROLE_WORDS
from fizzwright.catalogue.analysis.naming import HOW_WORDS, UNNAMED, Match
from fizzwright.catalogue.analysis.reading import Report, read_report
from fizzwright.catalogue.analysis.sheets import MOST_ROWS
from fizzwright.plan.lots import Taken, keep, take
from fizzwright.refusal import Refusal
from fizzwright.web.bench import Bench
from fizzwright.web.forms import Faults
from fizzwright.web.pages import bench_of, page, views_of
from fizzwright.wording import shown

MOST_UPLOAD = 2_500_000
"""Bytes of a report that may come in by the page; the door turns away larger forms."""
MOST_LISTED = 8


@dataclass(frozen=True, slots=True)
class PeakRow:
    """One peak as the page shows it."""

    label: str
    pct: str
    taken_for: str
    how: str
    remark: str
    question: str = ""
    box: str = ""
    """Name of its field, when a person is asked."""
    answer: str = ""
    options: tuple[tuple[str, str], ...] = ()


async def lots(request: Request) -> Response:
    """The lots that have an analysis, and a form to bring one in."""
    return await run_in_threadpool(lots_page, request)


def lots_page(request: Request, faults: Faults | None = None) -> HTMLResponse:
    """The page of lots, with what was wrong with a file brought in."""
    bench = bench_of(request)
    held = [
        {
            "lot": analysis.lot,
            "oil": bench.catalogue.oils[analysis.oil].name,
            "oil_id": analysis.oil,
            "count": len(analysis.shares),
            "unnamed": f"{shown(analysis.unnamed_pct)} %" if analysis.unnamed_pct else "nothing",
            "table": analysis.table,
        }
        for analysis in sorted(bench.workshop.lot_analyses.values(), key=lambda a: a.lot)
    ]
    return page(
        request,
        "analyses.html",
        "lots",
        422 if faults else 200,
        held=held,
        faults=faults or Faults(),
        done=request.query_params.get("done", "")[:80],
        oil=request.query_params.get("oil", "")[:80],
        oils=_oils(bench),
    )


def _oils(bench: Bench) -> list[tuple[str, str]]:
    return [(oil.id, oil.name) for oil in sorted(bench.catalogue.oils.values(), key=lambda oil: oil.name.casefold())]


async def bring(request: Request) -> Response:
    """A laboratory's file comes in: nothing is kept yet."""
    async with request.form() as data:
        upload = data.get("report")
        if not isinstance(upload, UploadFile) or not upload.filename:
            return lots_page(request, Faults({"report": ["Choose a file first."]}))
        raw = await upload.read(MOST_UPLOAD + 1)
        name = upload.filename.rsplit("/", 1)[-1].rsplit("\\", 1)[-1][:120]
        columns = {"pct": column} if (column := str(data.get("pct_column", "")).strip()) else {}
        oil = str(data.get("oil", ""))
    try:
        if len(raw) > MOST_UPLOAD:
            raise Refusal(
                f"{name}: more than {MOST_UPLOAD / 1e6:.1f} MB. An analysis of one oil is far smaller. Check that it is the right file."
            )
        report = await run_in_threadpool(read_report, raw, name, columns)
        taken = await run_in_threadpool(lambda: take(report, bench_of(request).catalogue, oil=oil))
    except Refusal as refused:
        return lots_page(request, Faults({"report": [str(refused)]}))
    return _confirm_page(request, taken, FormData(), Faults())


async def confirm(request: Request) -> Response:
    """The answers come back: compare anew, or keep the lot."""
    data = await request.form(max_fields=4 * MOST_ROWS)
    return await run_in_threadpool(_confirmed, request, data)


def _confirmed(request: Request, data: FormData) -> Response:
    bench = bench_of(request)
    name = str(data.get("file", ""))[:120] or "report"
    try:
        report = _report_again(str(data.get("table", "")), name, data)
    except Refusal as refused:
        return lots_page(request, Faults({"report": [str(refused)]}))
    oil, lot = str(data.get("oil", "")), str(data.get("lot", "")).strip()
    answers = {
        str(data.get(f"peak-{place}")): str(answer)
        for place in range(len(report.peaks))
        if (answer := data.get(f"answer-{place}")) is not None and data.get(f"peak-{place}")
    }
    faults: dict[str, list[str]] = {}
    try:
        taken = take(
            report, bench.catalogue, oil=oil, lot=lot, answers=answers, supplier=str(data.get("supplier", ""))[:100]
        )
    except Refusal as refused:
        taken = take(report, bench.catalogue, answers=answers if _known(bench, answers) else {})
        faults["lot" if str(refused).startswith("lot") else "oil"] = [str(refused)]
    if data.get("do") == "keep" and not faults:
        if not lot:
            faults["lot"] = ["Write the lot code as on the bottle."]
        elif taken.is_settled:
            try:
                path = keep(
                    taken, bench.catalogue, bench.workshop, today=bench.clock(), replace=data.get("replace") == "1"
                )
            except Refusal as refused:
                faults["lot"] = [str(refused)]
            else:
                _reopen(request, path)
                return RedirectResponse(f"/lots?done={quote(taken.lot)}", 303)
        else:
            faults[""] = [
                "Nothing was kept yet: with this oil, other names are in doubt. Look at them below and confirm once more."
            ]
    return _confirm_page(request, taken, data, Faults(faults))


def _known(bench: Bench, answers: dict[str, str]) -> bool:
    """True when every answer is one that the page offered."""
    parts = [part for answer in answers.values() if answer != UNNAMED for part in answer.split("+")]
    return all(bench.catalogue.constituent_named(part) for part in parts)


def _report_again(table: str, name: str, data: FormData) -> Report:
    """The report from the plain table that the page carries, with the notes of the first reading."""
    report = read_report(table.encode("utf-8"), name)
    return replace(report, form=str(data.get("form", report.form))[:120])


def _reopen(request: Request, path: Path) -> None:
    """Open the workshop anew, so that the lot is known at once."""
    bench = bench_of(request)
    try:
        catalogue, workshop = open_workshop(bench.workshop.folder)
    except Refusal as refused:
        raise Refusal(
            f"The lot is kept in lots/{path.name}, but the workshop cannot be opened anew. {refused}"
        ) from refused
    request.app.state.bench = replace(bench, catalogue=catalogue, workshop=workshop)


def _confirm_page(request: Request, taken: Taken, data: FormData, faults: Faults) -> HTMLResponse:
    bench = bench_of(request)
    analysis = taken.analysis
    rows = [_row(bench, match, place, data) for place, match in enumerate(taken.matches)]
    oils = _oils(bench)
    return page(
        request,
        "analysis.html",
        "lots",
        422 if faults else 200,
        taken=taken,
        table=taken.report.as_csv(),
        columns=[(c.header, ROLE_WORDS[c.role]) for c in taken.report.columns],
        asked=[row for row in rows if row.box],
        rows=rows,
        findings=analysis.findings if analysis else (),
        total=f"{shown(taken.report.total_pct, 4)} %",
        likeness=[(bench.catalogue.oils[oil].name, f"{near:.2f}") for oil, near in taken.likeness],
        oils=oils if taken.oil else [("", "Choose an oil"), *oils],
        oil=taken.oil.id if taken.oil else "",
        lot=str(data.get("lot", taken.lot)),
        supplier=str(data.get("supplier", "")),
        faults=faults,
        cited=views_of(bench).cited,
        may_replace=any("--replace" in text for text in faults.by_box.get("lot", [])),
    )


def _row(bench: Bench, match: Match, place: int, data: FormData) -> PeakRow:
    names = bench.catalogue.constituents
    taken_for = " + ".join(names[entry].name for entry in match.ids) or "no name here"
    share = match.peak.share
    pct = shown(share.pct, 3)
    if share.least != share.most:
        pct += f" ({shown(share.least, 3)} to {shown(share.most, 3)})"
    asked_before = data.get(f"answer-{place}") is not None
    row = PeakRow(match.label, pct, taken_for, HOW_WORDS[match.how] if match.ids else HOW_WORDS["none"], match.remark)
    if not (match.question or asked_before):
        return row
    options: dict[str, str] = {match.proposal: taken_for if match.ids else "leave it without a name"}
    options |= {entry: names[entry].name for entry in match.nearest[:MOST_LISTED]}
    options |= {UNNAMED: "leave it without a name"}
    return replace(
        row,
        question=match.question or "You said what it is.",
        box=f"answer-{place}",
        answer=str(data.get(f"answer-{place}", match.proposal)),
        options=tuple(options.items()),
    )
