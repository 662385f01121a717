"""The job sheet on paper, looked at from outside: poppler (pdftoppm, pdftotext, pdffonts, pdfinfo) draws and reads the PDF, zbarimg
reads its code, and this file measures pixels. Nothing here is compared with what the program said of itself before.

usage: sheet.py MENDWRIGHT EXAMPLES
"""
import json
import os
import pathlib
import re
import sys
import tempfile

from paperkit import done as all_done, flat, ok, pixmap, run, step_texts, words_with_places

PROGRAM, EXAMPLES = sys.argv[1], pathlib.Path(sys.argv[2])
# ISO 216: A4 is 210 x 297 mm. Letter is 8.5 x 11 in. One inch is 25.4 mm (1959).
SIZES = {'a4': (210.0, 297.0), 'letter': (8.5 * 25.4, 11 * 25.4)}
DPI = 300
def sheet(out, *words, env=None):
    return run(PROGRAM, 'sheet', *words, '-o', out, '--json', env={**os.environ, 'SOURCE_DATE_EPOCH': '1772000000', **(env or {})})


# ---- the text ----------------------------------------------------------------------------------------------------------------

def text_of(pdf, head):
    """The sheet's text in the order in which it was written, without the feet of pages."""
    raw = run('pdftotext', '-raw', pdf, '-').stdout.decode()
    lines = [line for line in raw.replace('\f', '\n').split('\n') if not re.match(r'^\d+ / \d+$', line) and not line.startswith(head)]
    return flat(' '.join(lines))


# ---- pixels ------------------------------------------------------------------------------------------------------------------

def bars(path):
    """Lengths in mm of the black bars at least 1.5 mm thick and 90 to 110 mm long, from the top."""
    width, height, _, pixels = pixmap(path)
    found, thick, last = [], 0, 0
    for y in range(height):
        best = 0
        for run_ in re.finditer(rb'[\x00-\x60]{900,}', pixels[y * width:(y + 1) * width]):
            best = max(best, len(run_.group()))
        mm = best / DPI * 25.4
        thick = thick + 1 if 90 < mm < 110 and abs(best - last) <= 1 else 0
        last = best
        if thick == int(1.5 / 25.4 * DPI):
            found.append(mm)
    return found


def is_stop(r, g, b):
    """Burnt orange, 0xb4521c, also where a pixel is only partly covered."""
    return r > 140 and r - g > 60 and g >= b and b < 170


def marks_mm(path):
    """How far from the left edge the upright orange lines stand that reach above and below the racks, in mm."""
    width, height, _, pixels = pixmap(path)
    longest = []
    for x in range(width):
        run_ = best = 0
        for r, g, b in zip(pixels[3 * x::3 * width], pixels[3 * x + 1::3 * width], pixels[3 * x + 2::3 * width]):
            run_ = run_ + 1 if is_stop(r, g, b) else 0
            best = max(best, run_)
        longest.append(best)
    found, group = [], []
    for x, best in enumerate(longest + [0]):
        if best > max(longest) * 0.97:
            group.append(x)
        elif group:
            found.append((sum(group) / len(group) + 0.5) / DPI * 25.4)
            group = []
    return found


# ---- the checks --------------------------------------------------------------------------------------------------------------

MARGIN = 15 / 25.4 * 72


def outside_of(pdf):
    """Words beyond the margins of 15 mm, or below the foot's line of 12 mm less its own height; figures under a ruler's first and
    last tick may stand out by half their width."""
    return [(page, w[:20]) for page, size, (x0, y0, x1, y1), w in words_with_places(pdf)
            if x0 < MARGIN - (10 if w.isdigit() else 1) or x1 > size[0] - MARGIN + 1 or y0 < MARGIN - 8 or y1 > size[1] - 20]


def check_pdf(folder, name, bulletin, paper, language, words, code):
    pdf = folder / f'{name}.pdf'
    done = sheet(pdf, bulletin, '--paper', paper, '--language', language, *words)
    said = json.loads(done.stdout) if done.returncode == 0 else {}
    ok(done.returncode == 0 and done.stderr == b'', f'{name}: the sheet is written ({done.stderr.decode().strip()})')
    if not said:
        return None, {}
    pages = [tuple(map(float, m)) for m in re.findall(r'Page\s+\d+ size:\s+([\d.]+) x ([\d.]+) pts',
                                                      run('pdfinfo', '-l', '999', pdf).stdout.decode())]
    width, height = SIZES[paper]
    rest = said['pages'] - said['template_pages']
    ok(len(pages) == said['pages'], f'{name}: {len(pages)} pages, as it says')
    ok(all(abs(w / 72 * 25.4 - width) < 0.1 and abs(h / 72 * 25.4 - height) < 0.1 for w, h in pages[:rest]),
       f'{name}: upright pages are {width:.1f} x {height:.1f} mm')
    ok(all(abs(w / 72 * 25.4 - height) < 0.1 and abs(h / 72 * 25.4 - width) < 0.1 for w, h in pages[rest:]),
       f'{name}: the {len(pages) - rest} template pages lie on their side')
    fonts = run('pdffonts', pdf).stdout.decode().splitlines()[2:]
    ok(len(fonts) > 0 and all(re.search(r'\byes (yes|no) yes\b', line) for line in fonts),
       f'{name}: all {len(fonts)} fonts are embedded, with their letters told (pdffonts)')
    structure = run('pdfinfo', '-struct', pdf).stdout.decode()
    ok(all(re.search(rf'^\s*{tag}\b', structure, re.M) for tag in ('H1', 'H2', 'H3', 'P', 'Table', 'TR', 'TH', 'TD', 'LI')),
       f'{name}: headings, tables and lists are tagged as such (pdfinfo -struct)')
    info = run('pdfinfo', pdf).stdout.decode()
    ok(re.search(rf'Title:.*{said["bulletin"]}', info) and re.search(r'Author:\s+\S', info) and 'Creator:         Mendwright' in info,
       f'{name}: title, author and creator are told (pdfinfo)')
    run('pdftoppm', '-r', '150', '-l', '1', '-png', pdf, folder / f'{name}-first')
    first = sorted(folder.glob(f'{name}-first*.png'))[0]
    read = run('zbarimg', '--quiet', '--raw', '-Sdisable', '-Sqrcode.enable', first).stdout.decode().strip()
    ok(read == code, f'{name}: zbarimg reads the code: {read}')
    text = text_of(pdf, f'{said["bulletin"]}, ')
    texts = step_texts(bulletin)
    close = text.replace(' ', '')  # a line may break after a hyphen
    missing = [t for t in (t.get(language, t['en']) for t in texts) if re.sub(r'\s', '', t) not in close]
    ok(len(texts) > 50 and not missing, f'{name}: all {len(texts)} texts of the steps are there whole (pdftotext) {missing[:2]}')
    outside = outside_of(pdf)
    ok(not outside, f'{name}: no word stands outside the margins {outside[:4]}')
    return pdf, said


def check_bars(folder, name, pdf, said):
    first = said['pages'] - said['template_pages'] + 1
    run('pdftoppm', '-r', DPI, '-gray', '-f', first, pdf, folder / f'{name}-bars')
    pages = sorted(folder.glob(f'{name}-bars*.pgm'))
    measured = [bars(p) for p in pages]
    ok(len(pages) == said['template_pages'] and all(len(m) == 2 for m in measured), f'{name}: two bars on each of {len(pages)} template pages')
    ok(all(abs(m[0] - 100.0) <= 0.2 for m in measured), f'{name}: the first is 100.0 mm within 0.2 mm ({[round(m[0], 2) for m in measured]})')
    ok(all(abs(m[1] - 101.6) <= 0.2 for m in measured), f'{name}: the second is 4 in within 0.2 mm ({[round(m[1], 2) for m in measured]})')


def check_marks(folder, name, pdf, said, window_mm, needed_mm):
    """Each line on the last sheet: its place on the page, less the margin, and the sheets before it, is the needed length."""
    run('pdftoppm', '-r', DPI, '-f', said['pages'], pdf, folder / f'{name}-mark')
    before = (said['template_pages'] - 1) * window_mm - 15.0
    found = [at + before for at in marks_mm(sorted(folder.glob(f'{name}-mark*.ppm'))[0])]
    ok(len(found) == len(needed_mm) and all(abs(a - b) <= 0.2 for a, b in zip(found, needed_mm)),
       f'{name}: the lines stand at {[round(v, 2) for v in found]} mm from the kept end, wanted {needed_mm}')


def hostile(text):
    """FR-26-11 with absurd texts; the file stays a sound bulletin."""
    word, much = 'W' * 900, 'Nobody reaches in, ever. ' * 150
    text = text.replace('en: Loading ramp LR - hinge bushes wear and walk out', f'en: "{word} and {much[:1500]}"')
    text = text.replace('name: {en: "Left hinge, seen from outside"}', f'name: {{en: "{word}"}}')
    long_ = 'Only ever the rule. ' * 150 + word[:800] + ' END-OF-CAUTION'
    text = text.replace('text: {en: Only the rule goes into the gap.}', f'text: {{en: "{long_}"}}')
    text = text.replace('text: {en: Keep fingers away from the winding plate.}', f'text: {{en: "{word}"}}')
    text = text.replace('name: {en: "Bush for a standard pin"}', f'name: {{en: "{word} {much[:3000]}"}}')
    text = text.replace('name: {en: Hand tools}', f'name: {{en: "{word}"}}')
    text = text.replace('name: {en: "Clearance of the latch, ramp closed"}', f'name: {{en: "{word}"}}')
    return text.replace('title: {en: Set the ramp true}', f'title: {{en: "{word}{word}"}}')


def check_hostile(folder):
    bulletin, pdf = folder / 'hostile.yaml', folder / 'hostile.pdf'
    bulletin.write_text(hostile((EXAMPLES / 'FR-26-11.yaml').read_text(encoding='utf-8')), encoding='utf-8')
    done = sheet(pdf, bulletin)
    ok(done.returncode == 0, f'hostile: texts of thousands of characters are printed ({done.stderr.decode().strip()[:200]})')
    outside = outside_of(pdf)
    ok(not outside, f'hostile: no word stands outside the margins {outside[:4]}')
    text = text_of(pdf, 'FR-26-11, ')
    ok(text.count('Only ever the rule.') == 150 and 'END-OF-CAUTION' in text.replace(' ', ''),
       f'hostile: a caution of 3800 characters is there to its end ({text.count("Only ever the rule.")} sentences of 150)')
    run('pdftoppm', '-r', '50', '-gray', pdf, folder / 'hostile')
    dark = 0
    for page in sorted(folder.glob('hostile*.pgm')):
        width, height, _, pixels = pixmap(page)
        edge = int(9 / 25.4 * 50)
        for y in range(height):
            row = pixels[y * width:(y + 1) * width]
            dark += sum(v < 200 for v in row[:edge] + row[-edge:])
    ok(dark == 0, f'hostile: the outer 9 mm left and right are bare on every page ({dark} dark pixels)')


with tempfile.TemporaryDirectory() as name_:
    folder = pathlib.Path(name_)
    wall, ramp = EXAMPLES / 'OV-26-03.yaml', EXAMPLES / 'FR-26-11.yaml'
    lengths = ['--station', 'fore', '--with', 'relief=upper', '--needed', 'inboard=1203.5mm', '--needed', 'outboard=1204mm']
    vin = '1FH9Z2A39RA123456'  # its check digit is 9: 49 CFR 565.15(c), worked with Python below
    values = dict(zip('ABCDEFGHJKLMNPRSTUVWXYZ0123456789', [1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 7, 9, 2, 3, 4, 5, 6, 7, 8, 9, *range(10)]))
    weights = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2]
    ok('0123456789X'[sum(values[c] * w for c, w in zip(vin, weights)) % 11] == vin[8], 'the VIN used here is sound')

    pdf, said = check_pdf(folder, 'wall', wall, 'a4', 'en', [*lengths, '--vin', vin], f'mendwright:OV-26-03/2?vin={vin}')
    if pdf:
        ok(said['template_pages'] == 5, '1203.5 mm take five sheets of 250 mm')
        check_bars(folder, 'wall', pdf, said)
        check_marks(folder, 'wall', pdf, said, 250, [1203.5, 1204.0])
        ok(vin in text_of(pdf, 'no such head'), 'wall: the VIN can be searched for')
        again = folder / 'again.pdf'
        sheet(again, wall, '--paper', 'a4', '--language', 'en', *lengths, '--vin', vin)
        ok(again.read_bytes() == pdf.read_bytes(), 'the same call at the same time gives the same bytes')

    inches = ['--station', 'aft', '--with', 'relief=lower', '--needed', 'inboard=47 1/4 in']
    pdf, said = check_pdf(folder, 'letter', wall, 'letter', 'fr', [*inches, '--link', 'https://desk.example/job/7?a=b&c=d'],
                          'https://desk.example/job/7?a=b&c=d')
    if pdf:
        check_bars(folder, 'letter', pdf, said)
        check_marks(folder, 'letter', pdf, said, 230, [1200.15])  # 47 1/4 x 25.4
        text = text_of(pdf, 'OV-26-03, ')
        ok(all(w in text for w in ('Fiche de travail', 'Étapes', 'ÉCRASER', 'Gabarit de coupe', '47 1/4 in')), 'letter: our words are French')
    check_pdf(folder, 'spanish', wall, 'a4', 'es', [], 'mendwright:OV-26-03/2')
    pdf, said = check_pdf(folder, 'ramp', ramp, 'letter', 'en', [], 'mendwright:FR-26-11/1')
    if pdf:
        text = text_of(pdf, 'FR-26-11, ')
        ok(said['template_pages'] == 0 and 'Cut template' not in text, 'ramp: without racks nothing is cut')
        ok('2 3/8 … 2 5/8 in' in text, 'ramp: inches stand as fractions')
    # Where what is signed and the signature fit on one page they stand on one.
    for paper in SIZES:
        for words in ([], ['--station', 'fore']):
            alone = folder / 'alone.pdf'
            sheet(alone, wall, '--paper', paper, *words)
            last = run('pdftotext', '-raw', alone, '-').stdout.decode().split('\f')[-2]
            ok('Label of the column, all of it legible' in last and 'signature' in last, f'{paper} {words}: the last page has the proof and its signature')
    check_hostile(folder)
    odd = "https://desk.example/a'b(c)\\d"
    done = sheet(folder / 'odd.pdf', ramp, '--link', odd)
    run('pdftoppm', '-r', '150', '-l', '1', '-png', folder / 'odd.pdf', folder / 'odd')
    read = run('zbarimg', '--quiet', '--raw', '-Sdisable', '-Sqrcode.enable', *folder.glob('odd-*1.png')).stdout.decode().strip()
    ok(done.returncode == 0 and read == odd and 'Syntax Error' not in run('pdfinfo', folder / 'odd.pdf').stderr.decode(),
       f'a link with quotes and brackets is printed as a code and breaks nothing ({read})')
    ok('https://desk.example/job/7?a=b&c=d' in run('pdfinfo', '-url', folder / 'letter.pdf').stdout.decode(), 'an ordinary link can be followed (pdfinfo -url)')
    dests = run('pdfinfo', '-dests', folder / 'wall.pdf').stdout.decode()
    ok(dests.count('section-') >= 8 and 'template-1' in dests, 'sections and template can be jumped to (pdfinfo -dests)')

    empty = folder / 'fonts.conf'
    empty.write_text('<?xml version="1.0"?><fontconfig></fontconfig>')
    done = sheet(folder / 'bare.pdf', ramp, env={'FONTCONFIG_FILE': str(empty)})
    ok(done.returncode == 3 and b'found no font' in done.stderr and not (folder / 'bare.pdf').exists(),
       f'without any font: said in words, nothing written ({done.stderr.decode().strip()[:120]})')
    ok(not list(folder.glob('*.part-*')), 'no half file is left behind')
sys.exit(0 if all_done() else 1)
