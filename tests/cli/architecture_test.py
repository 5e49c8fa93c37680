"""#includes in src/ follow the permitted arrows, heavy libraries stay in .cpp files, and docs/architecture.md lists the
folders of src/."""

import re
import sys
import unittest
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[2]
SRC = SOURCE / "src"

BASE = {"diagnostics", "uncertainty", "model"}
ARROWS = {
    "diagnostics": set(),
    "uncertainty": {"diagnostics"},
    "statistics": {"diagnostics", "uncertainty"},
    "photometry": {"diagnostics", "uncertainty"},
    "model": {"diagnostics", "uncertainty"},
    "intake": BASE,
    "metrics": BASE | {"statistics", "photometry"},
    "practice": BASE | {"statistics", "photometry"},
    "conformity": BASE,
    "report": BASE,
    "layout": BASE | {"report"},
    "pdf": BASE | {"report", "layout"},
    "workbook": BASE,
    "record": BASE,
    "seal": {"diagnostics"},
}
ARROWS["cli"] = set(ARROWS)
HEAVY = re.compile(r"^(Eigen/|cairo|pango|xlsxwriter|nlohmann/|boost/|CLI/|fmt/|openssl/|udunits2|cmark)")
INCLUDE = re.compile(r'^\s*#\s*include\s*(["<])([^">]+)[">]', re.M)


def includes(path):
    return INCLUDE.findall(path.read_text(encoding="utf-8"))


def violations(folder, path):
    """What one file of a folder includes and must not."""
    found = []
    for kind, name in includes(path):
        other = name.split("/")[0]
        if kind == '"' and other in ARROWS and other != folder and other not in ARROWS[folder]:
            found.append(f"{path.relative_to(SOURCE)} includes {name}")
        if path.suffix == ".hpp" and kind == "<" and HEAVY.match(name):
            found.append(f"{path.relative_to(SOURCE)} includes <{name}> in a header")
    return found


def linked(folder):
    """Rooms that the folder's CMakeLists.txt names after USES."""
    text = (SRC / folder / "CMakeLists.txt").read_text(encoding="utf-8")
    used = re.search(r"\bUSES\b([^)]*?)(?:\bLINKS\b|\))", text)
    return set(used.group(1).split()) if used else set()


class Architecture(unittest.TestCase):
    def test_includes_follow_the_permitted_arrows(self):
        files = [path for folder in ARROWS for path in (SRC / folder).rglob("*.[ch]pp")]
        self.assertGreater(len(files), 50)
        self.assertEqual([fault for path in files for fault in violations(path.relative_to(SRC).parts[0], path)], [])

    def test_link_lines_are_the_permitted_arrows(self):
        for folder in ARROWS:
            with self.subTest(folder):
                self.assertEqual(linked(folder) - ARROWS[folder], set())

    def test_a_forbidden_include_is_found(self):
        self.assertEqual(violations("metrics", SRC / "intake/intake.hpp"), [])
        self.assertNotEqual(violations("seal", SRC / "record/record.hpp"), [])

    def test_the_top_level_is_what_is_agreed(self):
        agreed = {"CMakeLists.txt", "README.md", "DEVELOPERS.md", "src", "templates", "tests", "fixtures", "docs"}
        found = {path.name for path in SOURCE.iterdir() if not path.name.startswith((".", "build"))}
        self.assertEqual(found, agreed)

    def test_main_only_hands_over(self):
        self.assertEqual(includes(SRC / "main.cpp"), [('"', "cli/cli.hpp")])

    def test_the_document_lists_the_folders_of_src(self):
        text = (SOURCE / "docs/architecture.md").read_text(encoding="utf-8")
        listed = set(re.findall(r"^\| `src/([a-z]+)/` \|", text, re.M))
        self.assertEqual(listed, {path.name for path in SRC.iterdir() if path.is_dir()})
        self.assertEqual(listed, set(ARROWS))

    def test_the_document_states_the_arrows(self):
        text = (SOURCE / "docs/architecture.md").read_text(encoding="utf-8")
        rows = dict(re.findall(r"^\| `src/([a-z]+)/` \|[^|]*\|[^|]*\| ([^|]*) \|$", text, re.M))
        for folder, arrows in ARROWS.items():
            stated = rows[folder]
            expected = "every other" if folder == "cli" else ", ".join(sorted(arrows)) or "none"
            self.assertEqual(stated, expected, folder)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
