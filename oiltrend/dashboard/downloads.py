"""What can be taken along: the numbers behind a chart and the rows that a file lost, as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from flask import Flask, Response, request
from flask.typing import ResponseReturnValue

from oiltrend.dashboard.context import current_caller, current_store
from oiltrend.errors import OiltrendError
from oiltrend.figures.panels import panels_info, table_of_panels
from oiltrend.figures.table import Cell
from oiltrend.figures.wear_rate import table_of_wear_rate, wear_rate_info
from oiltrend.ingest import KINDS, protect, template_headings
from oiltrend.service import fleet

__all__ = ["TRY_RESULTS", "add_download_routes", "csv_text"]

# A file to try the program with: one invented engine, five oil changes, lead on the rise.
TRY_RESULTS = """engine,sample_date,odometer_km,oil_distance_km,oil_changed,Fe,Cu,Pb,Sn,Al,Si,KV100
TRY-1,2024-03-02,41200,8100,yes,17,6,3,<1,4,8,17.4
TRY-1,2024-08-19,49500,8300,yes,19,7,4,<1,4,7,17.1
TRY-1,2025-02-11,57400,7900,yes,18,9,7,1.2,5,9,16.9
TRY-1,2025-07-30,65600,8200,yes,22,13,14,2.1,5,8,16.8
TRY-1,2026-01-15,73500,7900,yes,24,22,31,3.6,6,9,16.6
"""


def csv_text(columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> str:
    r"""Write rows as CSV that a spreadsheet cannot take for formulas.

    Parameters
    ----------
    columns : sequence of str [-]
        Headings.
    rows : sequence of sequence [-]
        Numbers with a decimal point, dates as ISO, text, None for blank.

    Returns
    -------
    str [-]
        The file.

    Examples
    --------
    >>> csv_text(("line", "raw"), [(2, "=1+1"), (3, None)])
    "line,raw\r\n2,'=1+1\r\n3,\r\n"
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([protect(column) for column in columns])
    writer.writerows([[protect(cell) if isinstance(cell, str) else cell for cell in row]
                      for row in rows])
    return text.getvalue()


def add_download_routes(server: Flask) -> None:
    """Let the browser fetch the numbers behind the charts.

    Parameters
    ----------
    server : Flask [-]
        The server.
    """
    @server.get("/data/<figure>.csv")
    def _figure(figure: str) -> ResponseReturnValue:
        asked = {key: request.args.get(key, "") for key in ("engine", "measurand", "unit")}
        try:
            history = fleet.engine_view(current_store(), current_caller(),
                                        asked["engine"]).history
            if figure == "wear-rate":
                table = table_of_wear_rate(wear_rate_info(history, asked["measurand"]),
                                           unit=asked["unit"])
            elif figure == "values":
                table = table_of_panels(panels_info(history, asked["measurand"].split(",")),
                                        unit=asked["unit"])
            else:
                return "There is no such table.", 404
        except OiltrendError as error:
            return str(error), 404
        return Response(
            csv_text(table.columns, table.rows).encode("utf-8-sig"), mimetype="text/csv",
            headers={"Content-Disposition": f'attachment; filename="oiltrend-{figure}.csv"'})

    @server.get("/data/try-results.csv")
    def _try() -> ResponseReturnValue:
        return Response(
            TRY_RESULTS.encode(), mimetype="text/csv",
            headers={"Content-Disposition": 'attachment; filename="try-results.csv"'})

    @server.get("/data/template/<kind>.csv")
    def _template(kind: str) -> ResponseReturnValue:
        if kind not in KINDS:
            return "There is no such table.", 404
        return Response(
            csv_text(template_headings(kind), []).encode("utf-8-sig"), mimetype="text/csv",
            headers={"Content-Disposition": f'attachment; filename="oiltrend-{kind}.csv"'})
