"""Reads workbooks cell by cell and has LibreOffice calculate them anew."""

import csv
import os
import pathlib
import re
import subprocess
import tempfile
import zipfile
from xml.etree import ElementTree

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"

RECALCULATE_ALWAYS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>"""
# All sheets, full digits, nothing as shown.
CSV_FILTER = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1"


class Cell:
    """A cell as the file holds it: value (float or text), formula (or None), and the number of its style."""

    __slots__ = ("formula", "style", "value")

    def __init__(self, formula, value, style=0):
        self.formula = formula
        self.value = value
        self.style = style


def split_name(name):
    """Row and column, from 0, of a cell name such as "C12"."""
    letters, digits = re.fullmatch(r"\$?([A-Z]+)\$?(\d+)", name).groups()
    column = 0
    for letter in letters:
        column = column * 26 + ord(letter) - ord("A") + 1
    return int(digits) - 1, column - 1


def sheet_parts(archive):
    """Names of the sheets in their order, with the path of each one's part."""
    relations = {
        relation.get("Id"): relation.get("Target")
        for relation in ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    }
    book = ElementTree.fromstring(archive.read("xl/workbook.xml"))
    return {
        sheet.get("name"): "xl/" + relations[sheet.get(RELATION)]
        for sheet in book.find(MAIN + "sheets")
    }


def italic_styles(path):
    """Numbers of the cell styles whose face is italic: the marks of stored cells."""
    with zipfile.ZipFile(path) as archive:
        styles = ElementTree.fromstring(archive.read("xl/styles.xml"))
    fonts = [font.find(MAIN + "i") is not None for font in styles.find(MAIN + "fonts")]
    return {number for number, style in enumerate(styles.find(MAIN + "cellXfs")) if fonts[int(style.get("fontId"))]}


def links(path):
    """Links inside the workbook: sheet -> {(row, column): target such as "results!A12"}."""
    found = {}
    with zipfile.ZipFile(path) as archive:
        for name, part in sheet_parts(archive).items():
            found[name] = {}
            with archive.open(part) as stream:
                for _, element in ElementTree.iterparse(stream):
                    if element.tag == MAIN + "hyperlink":
                        found[name][split_name(element.get("ref"))] = element.get("location")
                    elif element.tag == MAIN + "row":
                        element.clear()
    return found


def unescape(text):
    return re.sub(r"_x([0-9A-Fa-f]{4})_", lambda match: chr(int(match[1], 16)), text)


def read(path, only=None):
    """Sheets of a workbook, or only these: name -> {(row, column): Cell}. Every part must be well-formed."""
    sheets = {}
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        parts = sheet_parts(archive)
        for part in archive.namelist():
            if part not in parts.values():
                ElementTree.fromstring(archive.read(part))
        shared = []
        if "xl/sharedStrings.xml" in archive.namelist():
            for item in ElementTree.fromstring(archive.read("xl/sharedStrings.xml")):
                shared.append("".join(text.text or "" for text in item.iter(MAIN + "t")))
        for name, part in parts.items():
            if only is not None and name not in only:
                continue
            cells = {}
            with archive.open(part) as stream:
                for _, element in ElementTree.iterparse(stream):
                    if element.tag != MAIN + "c":
                        if element.tag == MAIN + "row":
                            element.clear()
                        continue
                    cells[split_name(element.get("r"))] = cell_of(element, shared)
            sheets[name] = cells
    return sheets


def cell_of(element, shared):
    kind, style = element.get("t"), int(element.get("s", 0))
    formula = element.find(MAIN + "f")
    value = element.find(MAIN + "v")
    text = None if value is None else value.text
    if kind == "inlineStr":
        text = "".join(part.text or "" for part in element.iter(MAIN + "t"))
        return Cell(None, unescape(text), style)
    if kind == "s":
        return Cell(None, unescape(shared[int(text)]), style)
    if text is not None and kind not in ("str", "e"):
        text = float(text)
    return Cell(None if formula is None else formula.text, text, style)


def recalculate(workbooks, profile=None):
    """Has LibreOffice load and calculate the workbooks anew, in one start: path -> {sheet: rows of text}."""
    with tempfile.TemporaryDirectory() as scratch:
        scratch = pathlib.Path(scratch)
        profile = profile or scratch / "profile"
        (profile / "user").mkdir(parents=True, exist_ok=True)
        (profile / "user" / "registrymodifications.xcu").write_text(RECALCULATE_ALWAYS)
        command = ["soffice", f"-env:UserInstallation=file://{profile}", "--headless", "--norestore",
                   "--convert-to", CSV_FILTER, "--outdir", str(scratch / "csv")]
        # LibreOffice writes its text export with the decimal mark of the locale; workbooks hold none of it.
        neutral = {**os.environ, "LC_ALL": "C.UTF-8", "LANG": "C.UTF-8"}
        result = subprocess.run(command + [str(workbook) for workbook in workbooks], capture_output=True, text=True,
                                timeout=600, check=False, env=neutral)
        answers = {}
        for workbook in workbooks:
            workbook = pathlib.Path(workbook)
            with zipfile.ZipFile(workbook) as archive:
                names = list(sheet_parts(archive))
            sheets = {}
            for name in names:
                exported = scratch / "csv" / f"{workbook.stem}-{name}.csv"
                if not exported.exists():
                    raise RuntimeError(f"LibreOffice wrote no {exported.name}: {result.stdout} {result.stderr}")
                with open(exported, newline="", encoding="utf-8") as stream:
                    csv.field_size_limit(1 << 24)
                    sheets[name] = list(csv.reader(stream))
            answers[workbook] = sheets
        return answers


def text_at(rows, position):
    row, column = position
    return rows[row][column] if row < len(rows) and column < len(rows[row]) else ""
