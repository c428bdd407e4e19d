"""The check list of fan and drive with what the enquiry list has been answered of it: an answered item no longer waits, and is
CHECK as every answer is, since no program judges it."""

from dataclasses import replace

PLACE = "fan", "drive_checks"  # section and key of the table
ASKED_BY = {  # item of the list: key of the question that settles it
    "Override of the drive's trips": "fan/override of the drive's own trips",
    "Restart after a trip, and its counter": "drive trip",
    "Flying start": "fan/restart after the mains come back",
    "Place of the intake": "intake",
    "Smoke detector in the supply": "fan/smoke detector in the supply",
    "Proof that the fan runs": "fan/proof that the fan runs",
    "By-pass of the drive": "feeder",
    "Standby power": "time to pressure",
}


def with_answers_beside(table, has_answer):
    """That `Table` with each answered item sent to its question in the last column, and CHECK. has_answer: of a key. None stays."""
    if table is None:
        return None
    rows, states = [], []
    for row, state in zip(table.rows, table.states, strict=True):
        key = ASKED_BY.get(row[0])
        answered = key is not None and has_answer(key)
        rows.append((*row[:-1], f"see the enquiry list: {key}") if answered else row)
        states.append("attention" if answered else state)
    return replace(table, rows=tuple(rows), states=tuple(states))
