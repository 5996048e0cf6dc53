"""The same work in Stillwell and in general-purpose Python libraries, in one run, one thread each; prints a Markdown table.

    peers/.venv/bin/python peers/bench.py            # the sizes behind BENCHMARKS.md, some minutes
    peers/.venv/bin/python peers/bench.py --quick    # small sizes: does everything run and agree?
    peers/.venv/bin/python peers/bench.py --save     # also writes peers/runs/<date>-<processor>.md

Both sides make the same data from the formulas in the headers of the `bench_*` examples and must arrive at the same checksum, or
the run fails. A time is the best of the repetitions. The rivals are written as one would who knows the library well; where
there are several ways, all are timed and the fastest counts.
"""

import argparse
import os
import sys

# One thread each, and the processor's own code paths: before any library is loaded.
for name in [name for name in os.environ if name.startswith("OPENBLAS_")]:
    del os.environ[name]
for name in ["OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "POLARS_MAX_THREADS", "NUMEXPR_MAX_THREADS"]:
    os.environ[name] = "1"

import datetime
import json
import pathlib
import platform
import re
import subprocess

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))

import bench_calibrate
import bench_kernel
import bench_monte_carlo
import bench_read
import bench_twin

REPOSITORY = pathlib.Path(__file__).resolve().parent.parent


def run_example(package, example, arguments):
    """The JSON line that a release build of `crates/<package>/examples/<example>.rs` prints."""
    build = ["cargo", "build", "--release", "--quiet", "-p", f"stillwell-{package}", "--example", example]
    subprocess.run(build, cwd=REPOSITORY, check=True)
    target = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", REPOSITORY / "target"))
    program = target / "release" / "examples" / example
    words = [str(word) for word in arguments]
    printed = subprocess.run([program, *words], cwd=REPOSITORY, check=True, stdout=subprocess.PIPE, text=True).stdout
    return json.loads(printed.strip().splitlines()[-1])


def processor():
    for line in pathlib.Path("/proc/cpuinfo").read_text().splitlines():
        if line.startswith("model name"):
            return line.split(":", 1)[1].strip()
    return platform.processor() or platform.machine()


def versions():
    from importlib.metadata import version

    names = ["numpy", "scipy", "statsmodels", "pybaselines", "pandas", "polars"]
    rust = subprocess.run(["rustc", "--version"], capture_output=True, text=True, check=True).stdout.split()[1]
    return f"Python {platform.python_version()}, " + ", ".join(f"{n} {version(n)}" for n in names) + f"; rustc {rust}"


def duration(nanoseconds):
    for unit, size in [("s", 1e9), ("ms", 1e6), ("µs", 1e3)]:
        if nanoseconds >= size:
            return f"{nanoseconds / size:.3g} {unit}"
    return f"{nanoseconds:.3g} ns"


def table(rows):
    """Each row: job, batch, unit of work, our nanoseconds, the rival's name and nanoseconds, ratio wanted.

    The ratio is rival/ours; where `at_most` is true the rival is a floor (a plain copy) and the ratio ours/rival.
    """
    lines = ["| job | batch | Stillwell | compared with | its time | ratio | wanted |  |", "| --- | --- | --- | --- | --- | --- | --- | --- |"]
    for row in rows:
        at_most = row.get("at_most", False)
        ratio = row["ours"] / row["theirs"] if at_most else row["theirs"] / row["ours"]
        wanted = row.get("wanted")
        shown = "–" if wanted is None else f"{'≤' if at_most else '≥'} {wanted}"
        reached = "" if wanted is None else ("reached" if (ratio <= wanted if at_most else ratio >= wanted) else "MISSED")
        lines.append(
            f"| {row['job']} | {row['batch']} | {duration(row['ours'])} | {row['rival']} | {duration(row['theirs'])} "
            f"| {ratio:.3g} | {shown} | {reached} |"
        )
    return lines


def report(rows, notes):
    today = datetime.date.today().isoformat()
    head = [f"Measured {today} on {processor()}, one thread each, best of the repetitions.", f"{versions()}.", ""]
    return "\n".join(head + table(rows) + [""] + [f"- {note}" for note in notes]) + "\n"


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="small sizes")
    parser.add_argument("--save", action="store_true", help="write peers/runs/<date>-<processor>.md")
    parser.add_argument("--only", choices=["kernel", "read", "calibrate", "twin", "monte_carlo"], help="one part of it")
    options = parser.parse_args()
    parts = {
        "kernel": bench_kernel,
        "read": bench_read,
        "calibrate": bench_calibrate,
        "twin": bench_twin,
        "monte_carlo": bench_monte_carlo,
    }
    rows, notes = [], []
    for name, part in parts.items():
        if options.only in (None, name):
            print(f"{name} …", file=sys.stderr, flush=True)
            part_rows, part_notes = part.run(run_example, options.quick)
            rows += part_rows
            notes += part_notes
    text = report(rows, notes)
    print(text)
    if options.save:
        name = re.sub(r"[^a-z0-9]+", "-", processor().lower()).strip("-")
        path = REPOSITORY / "peers" / "runs" / f"{datetime.date.today().isoformat()}-{name}.md"
        path.parent.mkdir(exist_ok=True)
        path.write_text("# One run of peers/bench.py\n\n" + text)
        print(f"written to {path.relative_to(REPOSITORY)}", file=sys.stderr)


if __name__ == "__main__":
    main()
