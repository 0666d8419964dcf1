"""The pages of `matrix` and `rank` in a browser: does the script run under the page's own policy, and do filters, order and
workings do what they say?

    python3 tests/outside/pages.py target/release/lapwise [chromium]
"""

import csv
import html
import io
import json
import pathlib
import re
import subprocess
import sys
import tempfile

PROGRAM = str(pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else "target/release/lapwise").resolve())
BROWSER = sys.argv[2] if len(sys.argv) > 2 else "chromium"
WRONG = []


def expect(what, found, wanted):
    """Notes a difference."""
    print(f"{what}: {found}" if found == wanted else f"{what}: {found}, wanted {wanted}")
    if found != wanted:
        WRONG.append(what)


def shown(path):
    """The document as the browser has it after its scripts ran."""
    command = [BROWSER, "--headless=new", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=4000", "--dump-dom"]
    done = subprocess.run([*command, path.as_uri()], capture_output=True, text=True, check=True, timeout=180)
    return done.stdout


def driven(page, folder, script):
    """What a script finds on the page; the page's policy is taken off for it, the page itself is untouched."""
    open_page = re.sub(r"<meta http-equiv[^>]*>", "", page)
    told = "document.body.setAttribute('data-told', JSON.stringify((() => { try { " + script
    told += " } catch (error) { return String(error); } })()));"
    path = folder / "driven.html"
    path.write_text(open_page.replace("</body>", f"<script>{told}</script></body>"), encoding="utf-8")
    return json.loads(html.unescape(re.search(r'data-told="([^"]*)"', shown(path)).group(1)))


def matrix(folder):
    """Every finding."""
    path = folder / "matrix.html"
    subprocess.run([PROGRAM, "matrix", "Q-104", "--format", "html", "-o", path], check=True, capture_output=True)
    rows = subprocess.run([PROGRAM, "matrix", "Q-104", "--format", "csv"], check=True, capture_output=True, text=True).stdout
    rows = [row for row in csv.DictReader(io.StringIO(rows)) if row["verdict"] != "not-asked"]
    page = path.read_text(encoding="utf-8")
    document = shown(path)
    expect("the script runs under the page's policy", 'aria-sort="none"' in document, True)
    expect("a page of rows is shown", f"200 of {len(rows)} findings shown." in document, True)
    visible = "const visible = () => [...document.querySelectorAll('#findings tbody tr')].filter((row) => !row.hidden);"
    change = "const change = (id, value) => { const c = document.querySelector(id); c.value = value; c.dispatchEvent(new Event('change')); };"
    for verdict in ["suitable", "conditional", "unproven", "unsuitable"]:
        found = driven(page, folder, visible + f"""
            document.querySelectorAll('.f-verdict').forEach((box) => {{ if (box.value !== '{verdict}') box.click(); }});
            document.querySelector('#every').click();
            return [visible().length, new Set(visible().map((row) => row.dataset.verdict)).size];""")
        expect(f"filtered for {verdict}", found, [sum(row["verdict"] == verdict for row in rows), 1])
    tape = rows[0]["tape"]
    found = driven(page, folder, visible + change + f"change('#f-tape', '{tape}'); return visible().length;")
    expect(f"filtered for {tape}", found, sum(row["tape"] == tape for row in rows))
    found = driven(page, folder, visible + """
        const head = document.querySelector('th[data-key=margin]');
        head.querySelector('button').click();
        document.querySelector('#every').click();
        const margins = visible().map((row) => Number(row.dataset.margin));
        const rising = margins.every((x, n) => n === 0 || margins[n - 1] <= x);
        head.querySelector('button').click();
        return [rising, head.getAttribute('aria-sort'), visible().length];""")
    expect("sorted by margin", found, [True, "descending", len(rows)])
    found = driven(page, folder, """
        let opened = 0;
        for (const button of document.querySelectorAll('[data-w]')) {
          button.focus();
          button.click();
          const dialog = document.querySelector('dialog');
          const title = dialog.querySelector('h2').textContent;
          const tape = (button.closest('tr').dataset.tape || button.closest('tr').querySelector('th').firstChild.textContent).trim();
          if (!dialog.open || !title.includes(` of ${tape}`)) return `${title} behind ${tape}`;
          dialog.close();
          if (button.offsetParent && document.activeElement !== button) return `the focus is lost after ${title}`;
          opened += 1;
        }
        return opened === document.querySelectorAll('[data-w]').length;""")
    expect("every cell opens its working, and the focus comes back", found, True)
    found = driven(page, folder, visible + """
        const tile = document.querySelector('.tile');
        tile.click();
        document.querySelector('#only').click();
        return [document.querySelector('dialog').open, new Set(visible().map((r) => r.dataset.tape + r.dataset.exposure)).size];""")
    expect("from a tile to its findings", found, [False, 1])


def rank(folder):
    """The order of candidates."""
    path = folder / "rank.html"
    subprocess.run([PROGRAM, "rank", "Q-104", "--format", "html", "-o", path], check=True, capture_output=True)
    expect("the script of the order runs", 'aria-sort="none"' in shown(path), True)
    found = driven(path.read_text(encoding="utf-8"), folder, """
        document.querySelector('th[data-key=cost] button').click();
        const costs = [...document.querySelectorAll('#findings tbody tr')].map((row) => Number(row.dataset.cost));
        return costs.every((x, n) => n === 0 || costs[n - 1] <= x);""")
    expect("sorted by cost", found, True)


with tempfile.TemporaryDirectory() as name:
    matrix(pathlib.Path(name))
    rank(pathlib.Path(name))
print(f"{len(WRONG)} faults")
sys.exit(1 if WRONG else 0)
