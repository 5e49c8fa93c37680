"""Own reading of a qualification folder: header, readings, units. Knows nothing of the program."""
import csv
import datetime
import io
import json
import math
import pathlib

YEAR = 31556925.9747  # s, the year of the UDUNITS database
LINEAR = {  # to canonical units: lx, m, s, rad, K, 1, Hz, lx per count
    "lx": 1.0, "klx": 1e3, "mlx": 1e-3, "m": 1.0, "mm": 1e-3, "cm": 1e-2, "um": 1e-6, "nm": 1e-9, "s": 1.0, "ms": 1e-3,
    "min": 60.0, "h": 3600.0, "rad": 1.0, "degree": math.pi / 180, "K": 1.0, "1": 1.0, "%": 1e-2, "%/K": 1e-2,
    "%/year": 1e-2, "1/K": 1.0, "Hz": 1.0, "W/m2": 1.0, "W/m^2": 1.0, "W m-2": 1.0, "count": 1.0, "mW/m2": 1e-3,
    "delta_K": 1.0,
    "V": 1.0,
}


class Quantity:
    """Canonical value, standard uncertainty (None: not stated), degrees of freedom."""

    def __init__(self, stated):
        unit = stated["unit"]
        scale = LINEAR[unit] if unit != "degC" else 1.0
        self.value = stated["value"] * scale + (273.15 if unit == "degC" else 0.0)
        self.u = None
        if "standard_uncertainty" in stated:
            self.u = stated["standard_uncertainty"] * scale
        elif "expanded_uncertainty" in stated:
            self.u = stated["expanded_uncertainty"] * scale / stated["coverage_factor"]
        elif "half_width" in stated:
            self.u = stated["half_width"] * scale / math.sqrt(3)
        self.nu = stated.get("degrees_of_freedom", math.inf)


def value(stated):
    return None if stated is None else Quantity(stated).value


def date(text):
    return datetime.date.fromisoformat(text[:10])


class Run:
    """Rows of one distinct combination; columns as lists of floats (None: missing) or texts."""

    def __init__(self, stated, columns, rows, overrides):
        self.stated = stated
        self.id = stated["id"]
        self.kind = stated["kind"]
        self.rows = rows
        self.columns = columns
        for key in ("sample", "configuration", "source", "meter"):
            setattr(self, key, overrides.get(key, stated.get(key, "")))
        self.conditions = dict(stated.get("conditions", {}))
        self.conditions.update({k: v for k, v in overrides.items()
                                if k not in ("sample", "configuration", "source", "meter")})
        self.time_ordered = stated.get("time_ordered", "time" in columns)

    def has(self, name):
        return name in self.columns

    def column(self, name):
        return [self.columns[name][row] for row in self.rows]

    def quantity(self, name):
        got = self.conditions.get(name)
        return value(got) if isinstance(got, dict) else None

    def started_date(self):
        return date(self.stated["started"]) if "started" in self.stated else None


MEANINGS = {"sensor", "meter", "time", "level", "range", "place", "x", "y", "angle", "monitor", "screened", "irradiance",
            "signal"}
TEXTS = {"place", "sample", "configuration", "source"}


def number(text, decimal):
    text = text.strip()
    if text == "":
        return None
    return float(text.replace(decimal, ".") if decimal != "." else text)


def moment(text, decimal):
    text = text.strip()
    if "T" in text:
        return datetime.datetime.fromisoformat(text).replace(tzinfo=datetime.timezone.utc).timestamp()
    return number(text, decimal)


def read_csv(path, form):
    raw = pathlib.Path(path).read_bytes()
    encoding = form.get("encoding", "utf-8-sig").lower().replace("utf-8", "utf-8-sig").replace("-sig-sig", "-sig")
    text = raw.decode(encoding)
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    delimiter = form.get("delimiter") or max(",;\t|", key=lines[0].count)
    rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter))
    return rows[0], rows[1:]


def runs_of(folder, header):
    defaults = header.get("run_defaults", {})
    result = []
    for own in header.get("runs", []):
        stated = {**defaults.get(own["kind"], {}), **own}
        if "conditions" in defaults.get(own["kind"], {}):
            stated["conditions"] = {**defaults[own["kind"]]["conditions"], **own.get("conditions", {})}
        form = stated.get("format", {})
        decimal = form.get("decimal", ".")
        heading, rows = read_csv(pathlib.Path(folder) / stated["file"], form)
        heading = [h.strip() for h in heading]
        columns, units = {}, {}
        for meaning, spec in stated["columns"].items():
            at = heading.index(spec["column"])
            cells = [row[at] if at < len(row) else "" for row in rows]
            unit = spec.get("unit")
            units[meaning] = unit
            if unit is None:
                columns[meaning] = [c.strip() for c in cells]
            elif meaning == "time":
                columns[meaning] = [None if (v := moment(c, decimal)) is None else v * LINEAR.get(unit, 1.0)
                                    for c in cells]
            else:
                scale = LINEAR[unit] if unit != "degC" else 1.0
                if meaning == "sensor":
                    scale *= header.get("product", {}).get("scale", 1.0)
                columns[meaning] = [None if (v := number(c, decimal)) is None else v * scale for c in cells]
        excluded = {row for e in header.get("exclusions", []) if e["run"] == stated["id"] for row in e["rows"]}
        keep = [i for i in range(len(rows)) if i + 1 not in excluded]
        keys = [m for m in columns if m not in MEANINGS and m not in ("temperature",)]
        combinations = {}
        for i in keep:
            combinations.setdefault(tuple(columns[k][i] for k in keys), []).append(i)
        for combination, indices in combinations.items():
            overrides = {}
            for key, got in zip(keys, combination):
                if units[key] is None:
                    overrides[key] = got
                else:
                    canonical = {"degree": "rad", "%": "1"}.get(units[key], units[key])
                    overrides[key] = {"value": got, "unit": canonical} if canonical in LINEAR else got
            if not keys:
                overrides = {}
            result.append(Run(stated, columns, indices, overrides))
    return result


def load(folder):
    header = json.loads((pathlib.Path(folder) / "qualification.json").read_text())
    header["folder"] = str(folder)
    return header, runs_of(folder, header)
