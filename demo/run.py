"""Install the planner into `.venv` and plan the demo trips: `python3 demo/run.py`."""

import sys

from environment import ROOT, SetupError, make_ready, run, shown, step

GO, NO_GO = 0, 3
MEANING = {GO: "go", NO_GO: "no-go"}
TRIPS = {"valley-to-coast.yaml": GO, "night-transfer.yaml": NO_GO}
"""The demo trips in the order in which they are planned, each with the exit code that it is meant to give."""

REVIEW = ("demo/history.jsonl", "--made", "150", "--format", "text,pdf")
"""The history of an invented service (demo/make_history.py), of which ten trips were never closed."""


def main() -> int:
    """Plan each trip, review the history and say where the pages are; 0 where all gave what they are meant to give."""
    try:
        make_ready()
    except SetupError as error:
        print(f"demo/run.py: {error}", file=sys.stderr)
        return 1
    output = ROOT / "output"
    for name, meant in TRIPS.items():
        step(f"\n--- demo/{name}: this trip is meant to be {MEANING[meant].upper()} ---\n")
        code = run(["-m", "planner", "plan", f"demo/{name}", "--output", str(output)])
        if code != meant:
            print(f"demo/run.py: demo/{name} gave exit code {code}, not {meant}", file=sys.stderr)
            return 1
        if code == NO_GO:
            step("\nIts exit code is 3, which tells a script that starts the planner that the trip is no-go.")
    step("\n--- demo/history.jsonl: what 140 closed trips of an invented service teach ---\n")
    code = run(["-m", "planner", "review", *REVIEW, "--output", str(output)])
    if code != GO:
        print(f"demo/run.py: the review of demo/history.jsonl gave exit code {code}, not {GO}", file=sys.stderr)
        return 1
    step("\nThe pages to print:")
    for name in (*TRIPS, "review"):
        step(f"  {shown((output / name).with_suffix('.pdf'))}")
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit("\nStopped. Start it again to go on.")
