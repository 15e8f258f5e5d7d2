"""Makes the guide's pictures anew, of the shop that the guide begins; run after cards changed."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from command_samples import own_process  # noqa: E402
from guide_samples import told, write  # noqa: E402

from buildsheets.guide.chapters import FOLDER, chapters  # noqa: E402

PICTURES = FOLDER / "pictures"
DPI = 100
CARDS = {"build": "build-cards/medium.pdf", "gauge": "gauge-cards/medium.pdf",
         "station": "bar/medium.pdf"}  # fmt: skip
"""Pictures that are a printed card, by its file: a test holds them against what is printed."""
CHROMIUM = "/usr/bin/chromium --headless --no-sandbox --disable-gpu --hide-scrollbars"


def pictures(folder: Path) -> dict[str, Image.Image]:
    """The pictures, as the chapters name them, made in a folder."""

    def run(*words: str) -> None:
        env = {"XDG_CACHE_HOME": str(folder / "cache"), "PYTHONPATH": str(ROOT)}
        ran = own_process(*words, cwd=folder, env=env)
        assert ran.code == 0, (words, ran)

    def as_told(*names: str) -> None:
        for chapter in chapters():
            for language, text in told(chapter) if chapter.name in names else ():
                if language in ("yaml", "css"):
                    write(folder, language, text)

    run("new", "--name", "Corner Tea", "--time-zone", "Europe/Lisbon")
    as_told("start", "menu", "printing", "money")
    run("publish")
    run("print")
    run("print", "--sheet", "A3", "--radius", "4", "--only", "iced-milk-tea", "--only", "lemon-tea")
    run("plan", "saturday", "--on", "2026-12-12", "--format", "pdf")
    run("costs", "--format", "pdf")
    out = folder / "out" / "W26"
    (sheets,) = (folder / "out").rglob("sheets-a3.pdf")
    found = {name: first_page(out / "en" / file) for name, file in CARDS.items()}
    found |= {
        "foot": part(found["build"], 0.77, 1),
        "words": part(first_page(out / "en" / "words-cards" / "all.pdf"), 0, 0.42),
        "allergens": part(first_page(out / "en" / "allergens-cards" / "all.pdf"), 0, 0.4),
        "sheet": first_page(sheets),
        "plan": part(first_page(out / "prep" / "plan-saturday.pdf"), 0, 0.55),
        "costs": part(first_page(out / "owner" / "costs.pdf"), 0, 0.25),
    }
    run("learn", "sheet")
    found["practice"] = part(first_page(out / "learn" / "en-all-level-1-seed-1.pdf"), 0, 0.62)
    run("site", "--day", "2026-12-12")
    found["phone"] = on_a_phone(min((folder / "out" / "site" / "C").glob("B*/index.html")), folder)
    practice = folder / "out" / "site" / "practice" / "en" / "index.html"
    found["phone-practice"] = on_a_phone(practice, folder)
    as_told("looks")
    run("print", "--only", "iced-milk-tea", "--out", "looks")
    (looks,) = (folder / "looks").rglob("build-cards/medium.pdf")
    found["looks"] = first_page(looks)
    as_told("season")
    drinks = folder / "menu" / "drinks.yaml"
    changed = drinks.read_text("utf-8").replace("amount: 80 ml", "amount: 90 ml")
    drinks.write_text(changed, "utf-8")
    run("compare", "W26", "--sheet")
    found["changes"] = part(first_page(folder / "out" / "changes.pdf"), 0, 0.38)
    return found


def first_page(pdf: Path) -> Image.Image:
    """The first page of a PDF."""
    document = pypdfium2.PdfDocument(pdf)
    image = document[0].render(scale=DPI / 72).to_pil().convert("RGB")
    document.close()
    return image


def part(image: Image.Image, first: float, last: float) -> Image.Image:
    """What of a picture stands between two shares of its height."""
    return image.crop((0, int(first * image.height), image.width, int(last * image.height)))


def on_a_phone(file: Path, folder: Path) -> Image.Image:
    shot = folder / "phone.png"
    words = [f"--screenshot={shot}", "--window-size=390,700", file.as_uri()]
    subprocess.run([*CHROMIUM.split(), *words], check=True, capture_output=True)
    return Image.open(shot).convert("RGB")


def saved(name: str, image: Image.Image) -> None:
    image.quantize(48, method=Image.Quantize.MAXCOVERAGE).save(
        PICTURES / f"{name}.png", optimize=True
    )


def main() -> None:
    with tempfile.TemporaryDirectory() as place:
        for name, image in pictures(Path(place)).items():
            saved(name, image)


if __name__ == "__main__":
    main()
