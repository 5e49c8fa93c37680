"""Text arrives as text: what begins like a formula, control characters, what reads like an escape.

    texts_test.py WRITE_TEXTS

Read back by openpyxl and by LibreOffice, which calculates every formula that it finds.
"""

import pathlib
import subprocess
import sys
import tempfile
import unittest

import openpyxl
from openpyxl.utils.escape import unescape

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import spreadsheet  # noqa: E402

WRITE_TEXTS = sys.argv[1]
TEXTS = ["=1+1", "+1+1", "-1-1", "@SUM(1,1)", "=HYPERLINK(\"#A1\",\"x\")", "'=1+1", "{=1+1}", "1e5", "TRUE", "2026-03-01", "#N/A",
         "  kept blanks  ", "two\nlines", "tab\tinside", "\tTab before", "bell \x07 rings", "escape \x1b[31m", "\x01", "line\rreturn",
         "_x0041_ is no letter", "_x005F_", "<b>&amp;</b>", "\u00e9\u2212\U0001d53c", "not a character \uffff", "\ufffe"]


class Texts(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls._scratch = tempfile.TemporaryDirectory(prefix="texts-")
        cls.book = pathlib.Path(cls._scratch.name) / "texts.xlsx"
        subprocess.run([WRITE_TEXTS, cls.book, *(text.encode().hex() for text in TEXTS)], check=True)

    @classmethod
    def tearDownClass(cls):
        cls._scratch.cleanup()

    def test_openpyxl_reads_each_as_the_text_that_it_was(self):
        sheet = openpyxl.load_workbook(self.book)["texts"]
        for row, text in enumerate(TEXTS, 1):
            cell = sheet.cell(row, 1)
            self.assertNotEqual(cell.data_type, "f", text)
            self.assertEqual(unescape(cell.value), text)

    def test_libreoffice_calculates_none_of_them(self):
        rows = spreadsheet.recalculate([self.book])[self.book]["texts"]
        # A byte order mark's mirror and its neighbour are no characters: LibreOffice may drop them.
        for row, text in enumerate(TEXTS):
            if "\ufffe" in text or "\uffff" in text:
                continue
            self.assertEqual(rows[row][0].replace("\r\n", "\n"), text.replace("\r\n", "\n"))


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
