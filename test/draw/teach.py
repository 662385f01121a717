"""Paper to teach by, looked at from outside: poppler reads and draws the PDF, Python's YAML reader reads the bulletin, and this file works
out what must stand there. Nothing here is compared with what the program said of itself before.

usage: teach.py MENDWRIGHT EXAMPLES
"""
import datetime
import json
import math
import os
import pathlib
import re
import struct
import sys
import tempfile
import zlib

import yaml

from paperkit import done, flat, ok, pixmap, run, words_with_places

PROGRAM, EXAMPLES = sys.argv[1], pathlib.Path(sys.argv[2])
# ISO 216: A4 is 210 x 297 mm. Letter is 8.5 x 11 in.
SIZES = {'a4': (210.0, 297.0), 'letter': (8.5 * 25.4, 11 * 25.4)}
# DejaVu Sans, table hhea: ascender 1901, descender 483, of 2048 units an em. Poppler's word boxes are that high.
LINE = (1901 + 483) / 2048
LEAST_PT = 7.0
FREE = 5 / 25.4 * 72  # 5 mm that most printers leave bare, and as far from every line that is cut along


def teach(out, *words, env=None):
    return run(PROGRAM, 'teach', *words, '-o', out, '--json', env={**os.environ, 'SOURCE_DATE_EPOCH': '1772000000', **(env or {})})


class Bulletin:
    """The file, read by another reader, and its texts in one language; a text that it does not have in it, marked as one."""

    def __init__(self, path, language):
        self.all = yaml.load(path.read_text(encoding='utf-8'), Loader=yaml.BaseLoader)
        self.language = language
        self.n_marked = 0

    def text(self, t):
        if isinstance(t, str):
            t = {self.all['bulletin']['language']: t}
        if self.language in t:
            return t[self.language]
        first = self.all['bulletin']['language']
        return f'{t[first]} [{first}]'

    def step(self, s):
        """Every text of a step, in the order in which it must be read: dangers, what to look at first, the act."""
        before = [self.text(c['text']) for c in s.get('cautions', [])]
        looked = [self.text(c) for c in s.get('check_first', [])]
        rest = [self.text(s['why'])] if 'why' in s else []
        rest += [self.text(i[k]) for i in s.get('inspections', []) for k in ('criterion', 'otherwise')]
        return before, looked, self.text(s['text']), rest


def close(text):
    return re.sub(r'\s', '', text)


def raw_pages(pdf):
    return [close(page) for page in run('pdftotext', '-raw', pdf, '-').stdout.decode().split('\f')]


def looks_sound(name, pdf, said, paper, tags):
    width, height = SIZES[paper]
    pages = [tuple(map(float, m)) for m in re.findall(r'Page\s+\d+ size:\s+([\d.]+) x ([\d.]+) pts', run('pdfinfo', '-l', '999', pdf).stdout.decode())]
    ok(len(pages) == said['pages'] and all(abs(w / 72 * 25.4 - width) < 0.1 and abs(h / 72 * 25.4 - height) < 0.1 for w, h in pages),
       f'{name}: {len(pages)} pages of {width:.1f} x {height:.1f} mm')
    fonts = run('pdffonts', pdf).stdout.decode().splitlines()[2:]
    ok(len(fonts) > 0 and all(re.search(r'\byes (yes|no) yes\b', line) for line in fonts), f'{name}: all {len(fonts)} fonts are embedded, with their letters told')
    structure = run('pdfinfo', '-struct', pdf).stdout.decode()
    ok(all(re.search(rf'^\s*{tag}\b', structure, re.M) for tag in tags), f'{name}: tagged as {", ".join(tags)} (pdfinfo -struct)')
    info = run('pdfinfo', pdf).stdout.decode()
    ok(re.search(rf'Title:.*{said["bulletin"]}', info) and re.search(r'Author:\s+\S', info) and 'Creator:         Mendwright' in info,
       f'{name}: title, author and creator are told')
    small = [(w, y1 - y0) for _, _, (_, y0, _, y1), w in words_with_places(pdf) if (y1 - y0) / LINE < LEAST_PT - 0.01]
    ok(not small, f'{name}: no letters below {LEAST_PT} pt {small[:4]}')


def crossing(pdf, columns):
    """Words nearer than 5 mm to the edge of the paper or to a line that is cut along."""
    bad = []
    for page, (width, height), (x0, y0, x1, y1), w in words_with_places(pdf):
        left, top = width / columns * math.floor(x0 / (width / columns)), height / 2 * math.floor(y0 / (height / 2))
        if x0 < left + FREE or x1 > left + width / columns - FREE or y0 < top + FREE or y1 > top + height / 2 - FREE:
            bad.append((page, w[:20]))
    return bad


# ---- cards -------------------------------------------------------------------------------------------------------------------

def card_of(word_box, size, columns):
    x0, y0, _, _ = word_box
    return int(y0 // (size[1] / 2)), int(x0 // (size[0] / columns))


def numbers(pdf, columns):
    """{page: {(row, column): the card's number}}: the only words of digits alone that are higher than 20 pt."""
    found = {}
    for page, size, box, w in words_with_places(pdf):
        if re.fullmatch(r'\d+', w) and (box[3] - box[1]) / LINE > 20:
            found.setdefault(page, {})[card_of(box, size, columns)] = int(w)
    return found


def check_cards(folder, example, paper, language, per_page, has_back):
    name = f'cards {example} {paper} {language} {per_page}{" back" if has_back else ""}'
    pdf, path, columns = folder / 'cards.pdf', EXAMPLES / f'{example}.yaml', per_page // 2
    b = Bulletin(path, language)
    steps = b.all['steps']
    made = teach(pdf, path, '--paper', paper, '--language', language, '--per-page', per_page, *(['--back'] if has_back else []))
    ok(made.returncode == 0 and made.stderr == b'', f'{name}: written ({made.stderr.decode().strip()[:200]})')
    if made.returncode != 0:
        return
    said = json.loads(made.stdout)
    fronts = math.ceil((len(steps) + 1) / per_page)  # and a cover
    ok(said['cards'] == len(steps) + 1 and said['pages'] == fronts * (2 if has_back else 1), f'{name}: one step a card, and a cover: {said["cards"]} cards, {said["pages"]} pages')
    looks_sound(name, pdf, said, paper, ('H1', 'H2', 'P'))
    bad = crossing(pdf, columns)
    ok(not bad, f'{name}: nothing within 5 mm of an edge or a cut {bad[:4]}')
    every, at = numbers(pdf, columns), 0
    order = [every.get(page, {}).get((row, column), 0) for page in range(1, said['pages'] + 1, 2 if has_back else 1) for row in range(2) for column in range(columns)]
    ok(order[:len(steps) + 1] == list(range(len(steps) + 1)), f'{name}: numbered from the upper left on')
    if has_back:
        mirrored = all(every.get(page + 1, {}).get((row, columns - 1 - column), 0) == n
                       for page in range(1, said['pages'], 2) for (row, column), n in every.get(page, {}).items())
        ok(mirrored, f'{name}: each back lies behind its front when the sheet is turned along its long edge')
    pages = raw_pages(pdf)
    missing, late, whole = [], [], ''.join(pages)
    for i, s in enumerate(steps):
        page = pages[(i + 1) // per_page * (2 if has_back else 1)]
        before, looked, act, rest = b.step(s)
        missing += [t for t in (*before, *looked, act, *rest, b.text(s['title'])) if close(t) not in page]
        at = page.find(close(act))
        late += [t for t in (*before, *looked) if page.find(close(t)) > at]
    ok(not missing, f'{name}: every text of a step is whole, and on its page {missing[:2]}')
    ok(not late, f'{name}: what can hurt and what to look at first stand before the act {late[:2]}')
    is_all = language == b.all['bulletin']['language']
    ok((said['other_language'] == 0) == is_all and (f'[{b.all["bulletin"]["language"]}]' in whole) != is_all, f'{name}: texts in another language are marked, and only they')


# ---- pictures ----------------------------------------------------------------------------------------------------------------

def png(width, height, colour):
    """ISO/IEC 15948: signature, IHDR, IDAT, IEND."""
    def chunk(kind, data):
        return struct.pack('>I', len(data)) + kind + data + struct.pack('>I', zlib.crc32(kind + data))
    rows = b''.join(b'\0' + bytes(colour) * width for _ in range(height))
    return b'\x89PNG\r\n\x1a\n' + chunk(b'IHDR', struct.pack('>IIBBBBB', width, height, 8, 2, 0, 0, 0)) + chunk(b'IDAT', zlib.compress(rows)) + chunk(b'IEND', b'')


def green_page(width, height):
    """A PDF of one green page (ISO 32000-1, 7.5; readers find the objects without a table): poppler makes the JPEG of it, so that no other tool is needed."""
    drawn = b'0 1 0 rg 0 0 %d %d re f' % (width, height)
    return (b'%%PDF-1.4\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n2 0 obj<</Type/Pages/Kids[3 0 R]/Count 1>>endobj\n'
            b'3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 %d %d]/Contents 4 0 R>>endobj\n4 0 obj<</Length %d>>stream\n%s\nendstream endobj\n'
            b'trailer<</Root 1 0 R/Size 5>>\n' % (width, height, len(drawn), drawn))


def share_of(path, colour):
    width, height, _, pixels = pixmap(path)
    near = sum(abs(r - colour[0]) + abs(g - colour[1]) + abs(b - colour[2]) < 60 for r, g, b in zip(pixels[::3], pixels[1::3], pixels[2::3]))
    return near / (width * height)


def check_pictures(folder):
    text = (EXAMPLES / 'FR-26-11.yaml').read_text(encoding='utf-8')
    for k, (step, file) in enumerate((('identify', 'magenta.png'), ('isolate', 'green.jpg'), ('prop', 'lines.svg'))):
        picture = f'    picture: {{file: {file}, alt: {{en: "What stands in picture {k}"}}}}\n'
        text = re.sub(rf'(  - id: {step}\n)', rf'\1{picture}', text)
    (folder / 'pictured.yaml').write_text(text, encoding='utf-8')
    (folder / 'magenta.png').write_bytes(png(300, 200, (255, 0, 255)))
    (folder / 'source.pdf').write_bytes(green_page(400, 200))
    made = run('pdftoppm', '-jpeg', '-r', '72', '-singlefile', folder / 'source.pdf', folder / 'green')
    (folder / 'lines.svg').write_text('<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>')
    pdf = folder / 'pictured.pdf'
    done_ = teach(pdf, folder / 'pictured.yaml')
    said = json.loads(done_.stdout) if done_.returncode == 0 else {}
    ok(made.returncode == 0 and said.get('pictures') == 2, f'pictures: two are drawn ({done_.stderr.decode().strip()[:200]})')
    kinds = [line.split()[8] for line in run('pdfimages', '-list', pdf).stdout.decode().splitlines()[2:]]
    ok('jpeg' in kinds, f'pictures: the JPEG is in the file as it is (pdfimages: {kinds})')
    run('pdftoppm', '-r', '40', '-l', '1', pdf, folder / 'pictured')
    first = sorted(folder.glob('pictured-*.ppm'))[0]
    # at most 120 pt high as the card is drawn: 180 x 120 pt of 595 x 842 and 240 x 120, at any of the sizes of letters
    ok(share_of(first, (255, 0, 255)) > 0.02 and share_of(first, (0, 255, 0)) > 0.02, 'pictures: both are seen on the first page (pdftoppm)')
    text = flat(run('pdftotext', '-raw', pdf, '-').stdout.decode())
    ok(all(f'What stands in picture {k}' in text for k in range(3)) and 'lines.svg' in text, 'pictures: words stand below each, and in place of an SVG')
    (folder / 'magenta.png').write_bytes(png(300, 200, (255, 0, 255))[:200])
    (folder / 'green.jpg').unlink()
    done_ = teach(pdf, folder / 'pictured.yaml')
    ok(done_.returncode == 0 and json.loads(done_.stdout)['pictures'] == 0, 'pictures: a broken one and a missing one leave their words')


# ---- the crib ----------------------------------------------------------------------------------------------------------------

def week(text, is_end):
    """An ISO 8601 week's Monday or Sunday; a day as it is."""
    found = re.fullmatch(r'(\d{4})-W(\d\d)', text)
    return datetime.date.fromisocalendar(int(found[1]), int(found[2]), 7 if is_end else 1).isoformat() if found else text


def check_crib(folder, example, paper, language, limits):
    name = f'crib {example} {paper} {language}'
    pdf, path = folder / 'crib.pdf', EXAMPLES / f'{example}.yaml'
    b = Bulletin(path, language)
    made = teach(pdf, path, '--crib', '--paper', paper, '--language', language)
    ok(made.returncode == 0 and made.stderr == b'', f'{name}: written ({made.stderr.decode().strip()[:200]})')
    if made.returncode != 0:
        return ''
    said = json.loads(made.stdout)
    ok(said['pages'] == 1 and LEAST_PT - 0.001 <= said['body_pt'] <= 9.001, f'{name}: one page, texts in {said["body_pt"]:.2f} pt')
    looks_sound(name, pdf, said, paper, ('H1', 'H2', 'P', 'Table', 'TR', 'TH', 'TD', 'LI'))
    bad = [(w[:20], round(x1 - x0)) for _, (width, height), (x0, y0, x1, y1), w in words_with_places(pdf)
           if x0 < FREE or y0 < FREE or x1 > width - FREE or y1 > height - FREE]
    ok(not bad, f'{name}: no word within 5 mm of an edge {bad[:4]}')
    text = ''.join(raw_pages(pdf))
    wanted = [k.get('number', k['id']) for k in b.all['kits']]
    wanted += [c for v in b.all['scope']['variants'] for c in v.get('codes', [])]
    wanted += [week(w[k], k == 'to') for v in b.all['scope']['variants'] for w in v['windows'] for k in ('from', 'to')]
    wanted += [b.text(p['name']) for p in b.all['proof']['photos']]
    wanted += [b.text(a['name']) for a in b.all['adjusters']]
    wanted += [b.text(s[k]) for s in b.all['scope']['stations'] for k in ('name', 'label_at') if k in s]
    wanted += [b.all['claim']['until'], *(b.text(a['ask']) for a in b.all['scope']['attributes'] if 'ask' in a)]
    missing = [t for t in wanted if close(t) not in text]
    ok(not missing, f'{name}: {len(wanted)} kits, codes, windows, photos, adjusters and places are there whole {missing[:3]}')
    ok(text.count(close(limits[0])) >= limits[1], f'{name}: the limits {limits[0]} stand at {limits[1]} points ({text.count(close(limits[0]))})')
    run('pdftoppm', '-r', '200', '-png', pdf, folder / 'crib')
    read = run('zbarimg', '--quiet', '--raw', '-Sdisable', '-Sqrcode.enable', *folder.glob('crib-*.png')).stdout.decode().strip()
    ok(read == f'mendwright:{b.all["bulletin"]["id"]}/{b.all["bulletin"]["revision"]}', f'{name}: zbarimg reads the code: {read}')
    for file in folder.glob('crib-*.png'):
        file.unlink()
    return text


def check_wall(text):
    """What can be worked out by hand from OV-26-03."""
    tape = math.sqrt(1.0 ** 2 / 12 + 0.3 ** 2 + 0.4 ** 2)  # JCGM 100:2008, 4.3.7 and 5.1.2
    ok(close(f'differ by more than {math.floor(2 * math.sqrt(2) * tape * 10) / 10} mm') in text, f'wall: racks that differ by more than twice the doubt of two tapes, {2 * math.sqrt(2) * tape:.3f} mm')
    ok(close(f'1 = {math.pi * 2:.2f} mm · 2 = {math.pi * 4:.2f} mm · 3 = {math.pi * 6:.2f} mm') in text, 'wall: a tooth is pi times the module')
    ok(all(close(f'{n} mm {n} mm {1480 - n - 1.6:.1f} mm') in text for n in (940, 1470)), 'wall: needed, mark, and what is left of 1480 mm after a kerf of 1.6 mm')
    steps = yaml.load((EXAMPLES / 'OV-26-03.yaml').read_text(encoding='utf-8'), Loader=yaml.BaseLoader)['steps']
    where = {h: [i + 1 for i, s in enumerate(steps) if any(c['hazard'] == h for c in s.get('cautions', []))] for h in ('cutting', 'lifting', 'electrical')}
    ok(all(word + ','.join(map(str, where[h])) in text for word, h in (('CUT', 'cutting'), ('CRUSH', 'lifting'), ('SUPPLY', 'electrical'))), 'wall: the steps at which something can hurt')


# ---- hostile -----------------------------------------------------------------------------------------------------------------

def hostile(text):
    word, much = 'W' * 900, 'Nobody reaches in, ever. ' * 150
    text = text.replace('en: Loading ramp LR - hinge bushes wear and walk out', f'en: "{word} and {much[:1500]}"')
    text = text.replace('name: {en: "Left hinge, seen from outside"}', f'name: {{en: "{word}"}}')
    text = text.replace('text: {en: Only the rule goes into the gap.}', f'text: {{en: "{"Only ever the rule. " * 150 + word[:800]} END-OF-CAUTION"}}')
    text = text.replace('name: {en: Hand tools}', f'name: {{en: "{word}"}}')
    return text.replace('title: {en: Set the ramp true}', f'title: {{en: "{word}{word}"}}')


def check_hostile(folder):
    bulletin, pdf = folder / 'hostile.yaml', folder / 'hostile.pdf'
    bulletin.write_text(hostile((EXAMPLES / 'FR-26-11.yaml').read_text(encoding='utf-8')), encoding='utf-8')
    for per_page in (4, 2):
        made = teach(pdf, bulletin, '--per-page', per_page, '--back')
        ok(made.returncode == 0, f'hostile {per_page}: texts of thousands of characters are printed ({made.stderr.decode().strip()[:200]})')
        said = json.loads(made.stdout)
        ok(said['cards'] > 13, f'hostile {per_page}: the step goes on on more cards ({said["cards"]})')
        text = ''.join(raw_pages(pdf))
        ok(text.count('Onlyevertherule.') == 150 and 'END-OF-CAUTION' in text, f'hostile {per_page}: a caution of 3800 characters is there to its end ({text.count("Onlyevertherule.")} of 150)')
        bad = crossing(pdf, per_page // 2)
        ok(not bad, f'hostile {per_page}: nothing within 5 mm of an edge or a cut {bad[:4]}')
    crib = folder / 'no-crib.pdf'
    made = teach(crib, bulletin, '--crib')
    ok(made.returncode == 1 and b'does not fit on one page' in made.stderr and b'%' in made.stderr and not crib.exists(),
       f'hostile: a crib that does not fit is refused, with what takes most, and nothing is written ({made.stderr.decode().strip()[:160]})')


with tempfile.TemporaryDirectory() as name_:
    folder_ = pathlib.Path(name_)
    check_cards(folder_, 'OV-26-03', 'a4', 'en', 4, True)
    check_cards(folder_, 'OV-26-03', 'letter', 'es', 4, False)
    check_cards(folder_, 'OV-26-03', 'letter', 'fr', 2, True)
    check_cards(folder_, 'FR-26-11', 'letter', 'en', 4, False)
    check_cards(folder_, 'FR-26-11', 'a4', 'fr', 4, True)
    check_pictures(folder_)
    for paper_ in SIZES:
        for language_ in ('en', 'es', 'fr'):
            text_ = check_crib(folder_, 'OV-26-03', paper_, language_, ('56 … 61 mm', 8))
            if language_ == 'en':
                check_wall(text_)
    check_crib(folder_, 'FR-26-11', 'letter', 'en', ('2 3/8 … 2 5/8 in', 6))
    check_crib(folder_, 'FR-26-11', 'a4', 'es', ('2 3/8 … 2 5/8 in', 6))
    check_hostile(folder_)
    for kind_ in ([], ['--crib']):
        for file_ in ('one.pdf', 'two.pdf'):
            teach(folder_ / file_, EXAMPLES / 'FR-26-11.yaml', *kind_)
        ok((folder_ / 'one.pdf').read_bytes() == (folder_ / 'two.pdf').read_bytes(), f'the same call at the same time gives the same bytes {kind_}')
    (folder_ / 'fonts.conf').write_text('<?xml version="1.0"?><fontconfig></fontconfig>')
    bare = teach(folder_ / 'bare.pdf', EXAMPLES / 'FR-26-11.yaml', env={'FONTCONFIG_FILE': str(folder_ / 'fonts.conf')})
    ok(bare.returncode == 3 and b'found no font' in bare.stderr and not (folder_ / 'bare.pdf').exists(), 'without any font: said in words, nothing written')
sys.exit(0 if done() else 1)
