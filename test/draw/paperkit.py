"""What the tests of printed pages share: poppler asked from outside, our own examples read without the program, pixels."""
import json
import pathlib
import re
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402, F401


def done():
    """The plan; whether all held."""
    return tap.done() == 0


def run(*words, **more):
    return subprocess.run([str(w) for w in words], capture_output=True, **more)


# ---- what the bulletin says, read here and not by the program --------------------------------------------------------------

def step_texts(path):
    """Every text of the section `steps:` of our own examples, as {language: text}: the few forms of YAML that they use."""
    lines = path.read_text(encoding='utf-8').splitlines()
    at = lines.index('steps:') + 1
    texts, i = [], at
    while i < len(lines) and (not lines[i] or lines[i][0] in ' #'):
        found = re.match(r'^(\s*)(?:- )?(?:\w+: )?\{(en: .*)\}$', lines[i]) or re.match(r'^(\s*)(?:- )?\{(en: .*)\}$', lines[i])
        if found and not re.search(r'\bid:|\bpart:', lines[i]):
            value = found.group(2)[4:].strip()
            texts.append({'en': json.loads(value) if value.startswith('"') else value})
        found = re.match(r'^(\s+)(en|es|fr):\s+(.*)$', lines[i])
        if found:
            indent, language, value = len(found.group(1)), found.group(2), found.group(3)
            if value == '>-':
                parts = []
                while i + 1 < len(lines) and (not lines[i + 1].strip() or len(lines[i + 1]) - len(lines[i + 1].lstrip()) > indent):
                    i += 1
                    parts.append(lines[i].strip())
                value = ' '.join(parts)
            elif value.startswith('"'):
                value = json.loads(value)
            if language == 'en':
                texts.append({})
            texts[-1][language] = value
        i += 1
    return texts


def flat(text):
    return re.sub(r'\s+', ' ', text)


# ---- the page ----------------------------------------------------------------------------------------------------------------

def pixmap(path):
    data = path.read_bytes()
    kind, width, height, _ = data.split(None, 4)[:4]
    width, height = int(width), int(height)
    depth = 3 if kind == b'P6' else 1
    return width, height, depth, data[len(data) - width * height * depth:]


def words_with_places(pdf):
    page = 0
    for line in run('pdftotext', '-bbox', pdf, '-').stdout.decode().splitlines():
        found = re.search(r'<page width="([\d.]+)" height="([\d.]+)"', line)
        if found:
            page, size = page + 1, (float(found.group(1)), float(found.group(2)))
        found = re.search(r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*)</word>', line)
        if found:
            yield page, size, [float(v) for v in found.groups()[:4]], found.group(5)
