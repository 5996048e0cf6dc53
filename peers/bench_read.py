"""Reading text into two columns of 64-bit floats in SI units: Polars and pandas, from memory, as the example does.

The files follow the formulas in the header of `bench_read`; `trailer` is `semicolon` with a line of words at the end.
"""

import io
import pathlib
import tempfile

import numpy as np
import pandas
import polars

from timing import median_ns, require_agreement


def columns(n_scans):
    """Potentials in whole millivolts and currents in microamperes, scan after scan."""
    i, s = np.arange(600), np.arange(n_scans)[:, None]
    millivolts = np.broadcast_to(100 - i, (n_scans, 600)).ravel()
    microamperes = -(1.0 + 0.5 * ((i * 7919 + s * 104729) % 10007) / 10007).ravel()
    return millivolts, microamperes


def files(n_scans):
    """Text of each dialect, and the checksum that a reader must arrive at."""
    millivolts, microamperes = columns(n_scans)
    pairs = [(f"{mv / 1000:.3f}", f"{ua:.6f}") for mv, ua in zip(millivolts.tolist(), microamperes.tolist())]
    comma = [(v.replace(".", ","), i.replace(".", ",")) for v, i in pairs]
    semicolon = "E/V;I/uA\r\n" + "".join(f"{v};{i}\r\n" for v, i in comma)
    exponent = [f"{float(i):.6e}".replace(".", ",") if k % 10 == 0 else c for k, ((_, i), (_, c)) in enumerate(zip(pairs, comma))]
    remarks = "# invented scans\n# one potential column, one current column\n# stacked\n"
    return {
        "plain": "E/V,I/uA\n" + "".join(f"{v},{i}\n" for v, i in pairs),
        "semicolon": semicolon,
        "trailer": semicolon + "end of recording\r\n",
        "blank": remarks + "E/V    I/uA\n" + "".join(f"{v:>8}    {i}\n" for (v, _), i in zip(comma, exponent)),
    }


def in_si(frame):
    """Potential in V and current in A as NumPy columns."""
    potential_v = frame.iloc[:, 0].to_numpy() if isinstance(frame, pandas.DataFrame) else frame[:, 0].to_numpy()
    current_ua = frame.iloc[:, 1].to_numpy() if isinstance(frame, pandas.DataFrame) else frame[:, 1].to_numpy()
    if potential_v.dtype != np.float64 or current_ua.dtype != np.float64:
        raise SystemExit(f"not read as numbers: {potential_v.dtype}, {current_ua.dtype}")
    return potential_v, current_ua * 1e-6


def with_polars(text):
    return in_si(polars.read_csv(text, schema_overrides=[polars.Float64, polars.Float64], low_memory=False))


def with_pandas(text, **settings):
    return in_si(pandas.read_csv(io.BytesIO(text), **settings))


DIALECTS = [
    ("plain", "comma, decimal point", "Polars", with_polars, {}, 1),
    ("plain", "comma, decimal point", "pandas, C engine", with_pandas, dict(engine="c"), None),
    ("semicolon", "semicolon, decimal comma, CRLF", "pandas, C engine", with_pandas, dict(engine="c", sep=";", decimal=","), 2),
    ("blank", "three remarks, runs of blanks, decimal comma, some exponents", "pandas, C engine", with_pandas, dict(engine="c", sep=r"\s+", decimal=",", comment="#"), 2),
    ("trailer", "semicolon, decimal comma, CRLF, a line of words at the end", "pandas, Python engine (a footer needs it)", with_pandas, dict(engine="python", sep=";", decimal=",", skipfooter=1), 10),
]


def run(run_example, quick):
    n_scans, repeat = (20, 3) if quick else (1_000, 7)
    rows, apart = [], []
    with tempfile.TemporaryDirectory() as folder:
        for size, wants in [(n_scans, True), (1, False)]:
            texts = {name: text.encode() for name, text in files(size).items()}
            repeats = repeat if wants else 5 * repeat
            for dialect, described, rival, read, settings, wanted in DIALECTS:
                path = pathlib.Path(folder) / f"{dialect}-{size}.csv"
                path.write_bytes(texts[dialect])
                ours = run_example("scan", "bench_read", [path, "--repeat", repeats])
                theirs_ns, (potential_v, current_a) = median_ns(repeats, lambda: read(texts[dialect], **settings))
                if ours["rows"] != len(potential_v):
                    raise SystemExit(f"{dialect}: {ours['rows']} rows against {len(potential_v)}")
                checksum = potential_v.sum() + current_a.sum()
                apart.append(require_agreement(f"reading {dialect}", ours["checksum"], checksum, 1e-11))
                batch = f"{size} scan(s), {len(potential_v)} rows, {len(texts[dialect]) / 1e6:.3g} MB"
                rows.append(dict(job=f"reading: {described}", batch=batch, ours=ours["seconds_per_read"] * 1e9, rival=rival, theirs=theirs_ns, wanted=wanted if wants else None))
    notes = [
        f"Reading: medians; Stillwell also infers the dialect, splits the scans and hashes the bytes; checksums agree to {max(apart):.0e}.",
    ]
    return rows, notes
