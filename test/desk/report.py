#!/usr/bin/env python3
"""The campaign report: its pages by poppler, its figures against --json, against the studies of the same store, and against what Python counts
in the store's tables by SQL; stores with little in them; odd and long texts. Prints TAP.

usage: report.py PROGRAM
"""
import collections
import json
import os
import pathlib
import re
import sqlite3
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / 'cli'))
from run import Tap  # noqa: E402
from study_store import Store, call, prepare, without_notes  # noqa: E402

AT = '2026-12-01T18:00:00Z'
SIZES = {'a4': (210.0, 297.0), 'letter': (215.9, 279.4)}  # ISO 216; 8.5 x 11 in
MARGIN = 15 / 25.4 * 72
RESERVE = 'bulletin,amount,currency,person\nOV-26-03,45000.00,EUR,demo board\n'
STOCK = 'kit,on_hand,ordered,lead_days\nleft-upper,1,0,21\nleft-lower,30,10,21\nright-upper,22,0,21\n'


def tool(*argv):
    return subprocess.run([*map(str, argv)], capture_output=True, text=True, timeout=120).stdout


def report(program, pdf, *args):
    code, out, err = call(program, 'report', '-o', pdf, '--json', *args)
    return code, json.loads(out) if out else None, err


def shown(said, only=None):
    """Every text that stands on the pages, as --json has it."""
    texts = [said['verdict'], said['title'], said['subtitle'], said['over']] if only is None else []
    for section in said['sections']:
        if only is not None and section['id'] != only:
            continue
        if section['id'] != 'summary':
            texts.append(section['title'])
        for b in section['blocks']:
            texts += [b[k] for k in ('text', 'word', 'mark', 'expected', 'title', 'how', 'source') if b.get(k)]
            texts += [t[k] for t in b.get('tiles', []) for k in ('label', 'value', 'note')]
            texts += b.get('columns', []) + [c for row in b.get('rows', []) for c in row]
            texts += [x[k] for x in b.get('bars', []) for k in ('name', 'shown')]
    return texts


def bare(text):
    return re.sub(r'[\s\u00a0]', '', text)


def words(pdf):
    page = 0
    for line in tool('pdftotext', '-bbox', pdf, '-').splitlines():
        found = re.search(r'<page width="([\d.]+)" height="([\d.]+)"', line)
        if found:
            page, size = page + 1, (float(found.group(1)), float(found.group(2)))
        found = re.search(r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*)</word>', line)
        if found:
            yield page, size, [float(v) for v in found.groups()[:4]], found.group(5)


def outside(pdf):
    return [(page, w[:20]) for page, size, (x0, y0, x1, y1), w in words(pdf)
            if x0 < MARGIN - 1 or x1 > size[0] - MARGIN + 1 or y0 < MARGIN - 8 or y1 > size[1] - 20]


def overlaps(pdf):
    """Words that cover each other by more than a third of the smaller one's box, taken in from its leading."""
    pages, found = collections.defaultdict(list), []
    for page, _, (x0, y0, x1, y1), w in words(pdf):
        inset = (y1 - y0) * 0.2
        box = (x0, y0 + inset, x1, y1 - inset)
        for other, v in pages[page]:
            across = min(box[2], other[2]) - max(box[0], other[0])
            down = min(box[3], other[3]) - max(box[1], other[1])
            least = min((b[2] - b[0]) * (b[3] - b[1]) for b in (box, other))
            if across > 0 and down > 0 and across * down > least / 3:
                found.append((page, v[:24], w[:24]))
        pages[page].append((box, w))
    return found


def check_pages(tap, pdf, said, paper):
    sizes = re.findall(r'Page\s+\d+ size:\s+([\d.]+) x ([\d.]+) pts', tool('pdfinfo', '-l', '999', pdf))
    wide, high = SIZES[paper]
    tap.ok(len(sizes) == said['pages'] and all(abs(float(w) / 72 * 25.4 - wide) < 0.1 and abs(float(h) / 72 * 25.4 - high) < 0.1 for w, h in sizes),
           f'{paper}: {said["pages"]} pages of {wide} x {high} mm', sizes[:2])
    fonts = tool('pdffonts', pdf).splitlines()[2:]
    tap.ok(fonts and all(re.search(r'\byes (yes|no) yes\b', line) for line in fonts), f'{paper}: fonts are embedded, with their letters told', fonts)
    tags = tool('pdfinfo', '-struct', pdf)
    tap.ok(all(re.search(rf'^\s*{tag}\b', tags, re.M) for tag in ('H1', 'H2', 'H3', 'P', 'Table', 'TR', 'TH', 'TD', 'Figure')),
           f'{paper}: headings, tables and figures are tagged as such')
    pages = tool('pdftotext', '-layout', pdf, '-').split('\f')[:-1]
    tap.ok(all(re.search(rf'\b{i + 1} ?/ ?{len(pages)}\s*$', page) for i, page in enumerate(pages)), f'{paper}: each page has its number')
    text = bare(tool('pdftotext', pdf, '-'))
    # A line may break behind a hyphen, and cells of a table run on.
    raw = bare(tool('pdftotext', '-raw', pdf, '-'))
    texts = [t for t in shown(said) if t.strip()]
    missing = [t for t in texts if bare(t) not in text and bare(t) not in raw and
               not all(bare(w) in text for w in re.findall(r'[^\s\u00a0]+', t))]
    tap.ok(len(texts) > 150 and not missing, f'{paper}: all {len(texts)} texts of --json stand on the pages', missing[:3])
    first = re.sub(r'\b1 ?/ ?\d+\s*$', '', pages[0])
    told = bare(' '.join(shown(said)[:4] + shown(said, 'summary')) + 'invented' + said['day'])
    tap.ok(not (odd := [n for n in re.findall(r'[\d][\d.\-]*', first) if n.strip('.-') not in told]),
           f'{paper}: every figure of the first page is in --json', odd)
    tap.ok(not (found := outside(pdf)), f'{paper}: no word stands outside the margins', found[:4])
    tap.ok(not (found := overlaps(pdf)), f'{paper}: no word covers another', found[:6])


def table(said, section, first_column):
    """{first cell: the rest} of the table whose first head is that."""
    for s in said['sections']:
        for b in s['blocks']:
            if s['id'] == section and b['kind'] == 'table' and b['columns'][0] == first_column:
                return {row[0]: row[1:] for row in b['rows']}
    return {}


def check_figures(tap, program, store, s, said):
    c = said['campaign']
    db = sqlite3.connect(f'file:{store}/store.db?mode=ro', uri=True)
    paid = db.execute('SELECT coalesce(sum(amount_minor), 0) FROM rulings WHERE kind = 2').fetchone()[0]
    tap.ok(c['money']['paid_minor'] == paid and paid > 0, 'money paid is the sum of the payments', (c['money'], paid))
    euro = f'{(paid + 50) // 100:,}'.replace(',', ' ' if paid >= 1000000 else '')
    tap.ok(any(bare(euro + ' EUR') in bare(t) for t in shown(said, 'money')), 'and it is shown so, in whole units', euro)
    stands = collections.Counter(s.stands.get(x['seq'], 'unruled') for x in s.claims)
    verdicts = table(said, 'rulings', 'WHAT STANDS')
    tap.ok([int(v[0]) for v in verdicts.values()] == [stands[k] for k in ('pay', 'ask', 'hold', 'refuse', 'unruled')] + [len(s.claims)],
           'claims by what stands', (verdicts, stands))
    units = collections.defaultdict(lambda: [False, False])
    for vin, station, _, _, is_in in s.sites:
        units[vin][0] |= is_in
        units[vin][1] |= (vin, station) in s.claimed
    n_in, n_reached = sum(u[0] for u in units.values()), sum(u[0] and u[1] for u in units.values())
    tap.ok((c['units']['in_scope'], c['units']['reached']) == (n_in, n_reached), 'units in scope and reached', (c['units'], n_in, n_reached))
    last = {}
    for claim, seq in db.execute('SELECT claim_seq, max(seq) FROM rulings WHERE kind = 0 GROUP BY claim_seq'):
        last[seq] = claim
    rules = collections.defaultdict(set)
    for seq, rule in db.execute('SELECT seq, rule FROM findings'):
        if seq in last:
            rules[rule].add(last[seq])
    found = table(said, 'rulings', 'FINDING')
    tap.ok(found and all(int(v[1]) == len(rules[k]) for k, v in found.items()) and
           min(int(v[1]) for v in found.values()) >= max([len(x) for k, x in rules.items() if k not in found] or [0]),
           'findings by the claims that have them', found)


def check_studies(tap, program, store, said):
    """The report's figures are those of the studies of the same store and day."""
    until = ('--store', store, '--until', '2026-12-01', '--json')
    _, out, _ = call(program, 'study', 'completion', *until)
    study = json.loads(out)
    forecast = said['campaign']['forecast']
    ever = study['forecast'][-1]
    tap.ok((forecast['units'], forecast['come'], forecast['further']) == (study['n'], study['come'], round(ever['further'])),
           'the campaign and study completion count the same units and forecast the same', (forecast, study['n'], study['come'], ever))
    rows = table(said, 'completion', 'WITHIN')
    low, high = ever['further_interval']
    tap.ok(rows['ever'][:2] == [str(round(ever['further'])), f'{round(low)} to {round(high)}'], 'units that will ever come are those of study completion', (rows, ever))
    _, out, _ = call(program, 'study', 'held', *until)
    held = json.loads(out)
    text = ' '.join(shown(said, 'held'))
    tap.ok(f"failed {held['repaired']['failed']} times" in text and f"{held['ratio']:.2g}"[:4] in text, 'the repair is judged as study held does', (text, held))
    windows = table(said, 'found', 'VARIANT')
    for variant in ('wd40', 'wd55', 'wd70'):
        _, out, _ = call(program, 'study', 'window', *until, '--variant', variant, '--windows', '2')
        w = json.loads(out)
        wanted = [f"{w['first']} to {w['last']}", f"{w['failed']} of {w['built']}"] if w['found'] else ['no run stands out', '']
        tap.ok([windows[variant][0], windows[variant][3]] == wanted, f'{variant}: the window is that of study window', (windows[variant], wanted))


def check_wrong(tap, program, folder, store, pdf):
    for args, wanted in [(('-o', pdf), 'found no --store'), (('--store', store), 'found no -o'),
                         (('--store', store, '-o', pdf, '--paper', 'a5'), "'a5' is not known"),
                         (('--store', store, '-o', pdf, '--at', 'soon'), '--at: found'),
                         (('--store', store, '-o', pdf, '--bulletin', 'XX-1'), 'XX-1'),
                         (('--store', store, '-o', '-', '--json'), 'expected one of them'),
                         (('--store', store, '-o', pdf, '--lang', 'x'), 'language tag'),
                         (('--store', f'{folder}/none', '-o', pdf), 'none')]:
        code, out, err = call(program, 'report', *args)
        tap.ok(code == 2 and wanted in err and out == '', f'refused: {" ".join(map(str, args[2:] or args))[:50]}', (code, out, err))
    code, out, err = call(program, 'report', '--store', store, '-o', f'{folder}/no/such/r.pdf')
    tap.ok(code in (2, 3) and out == '' and 'no/such' in err, 'a folder that is not there: said so, nothing written', (code, err))


def check_little(tap, program, folder, campaign):
    store, pdf = f'{folder}/little', f'{folder}/little.pdf'
    call(program, 'store', 'init', '--store', store)
    code, _, err = call(program, 'report', '--store', store, '-o', pdf)
    tap.ok(code == 2 and 'no bulletin is kept' in err and not os.path.exists(pdf), 'a store without a bulletin: refused in words', err)
    call(program, 'store', 'keep', 'bulletin', f'{campaign}/bulletin.yaml', '--store', store)
    code, said, err = report(program, pdf, '--store', store, '--at', AT)
    texts = ' '.join(shown(said)) if said else ''
    tap.ok(code == 0 and all(w in texts for w in ('no build list is kept', 'No reserve is kept', 'no list of failure reports', 'No claim has come in yet',
                                                   'No shop has sent')), 'a store without claims: each section says what is missing', (code, err, texts[:900]))
    tap.ok(not re.search(r'\bnan\b|\binf\b', texts, re.I), 'and no figure that is none')
    tap.ok(not (found := outside(pdf) + overlaps(pdf)), 'and its pages are sound', found[:4])
    call(program, 'store', 'builds', f'{campaign}/builds.csv', '--store', store)
    code, said, err = report(program, pdf, '--store', store, '--at', AT)
    texts = ' '.join(shown(said)) if said else ''
    tap.ok(code == 0 and 'none has come' in texts or 'cannot be told' in texts, 'a store with a build list alone', (code, err, texts[:600]))
    tap.ok(not (found := outside(pdf) + overlaps(pdf)), 'and its pages are sound too', found[:4])


def check_odd(tap, program, folder, campaign):
    """A bulletin whose texts are as long as they may be, without a blank, or look like markup."""
    text = pathlib.Path(f'{campaign}/bulletin.yaml').read_text(encoding='utf-8')
    text = text.replace('Wall drive WD - racks slip out of step', 'Überlänge <b>&amp; "quoted" ' + 'Kurbelwellenlagerdeckelschraube' * 6, 1)
    text = text.replace('maker: Orrin Vale Drives (invented)', 'maker: "' + 'Ωμέγα ' * 18 + '(invented)"')
    text = text.replace('WD40, room up to 400 kg', 'W' * 150).replace('Left column, racks relieved at the upper end, to be cut', 'kit' * 60)
    text = text.replace('{en: Gap fore upper, room 150 mm out}', '{en: ' + 'gap-' * 40 + '}')
    path, store, pdf = f'{folder}/odd.yaml', f'{folder}/odd', f'{folder}/odd.pdf'
    pathlib.Path(path).write_text(text, encoding='utf-8')
    call(program, 'store', 'init', '--store', store)
    code, _, err = call(program, 'store', 'keep', 'bulletin', path, '--store', store)
    tap.ok(code == 0, 'a bulletin of odd texts is kept', err)
    for name in ('builds', 'keep failures'):
        file = f'{campaign}/builds.csv' if name == 'builds' else f'{campaign}/reports.csv'
        call(program, 'store', *name.split(), file, '--store', store)
    for paper in SIZES:
        code, said, err = report(program, pdf, '--store', store, '--at', AT, '--paper', paper)
        tap.ok(code == 0 and said['pages'] >= 3, f'odd texts, {paper}: the report is written', err)
        tap.ok(not (found := outside(pdf)), f'odd texts, {paper}: no word stands outside the margins', found[:4])
        tap.ok(not (found := overlaps(pdf)), f'odd texts, {paper}: no word covers another', found[:4])


def main():
    program = os.path.abspath(sys.argv[1])
    tap = Tap()
    with tempfile.TemporaryDirectory(prefix='mendwright-report-') as folder:
        campaign, store = prepare(program, folder)
        for name, text in (('reserve', RESERVE), ('stock', STOCK)):
            pathlib.Path(f'{folder}/{name}.csv').write_text(text, encoding='utf-8')
            code, _, err = call(program, 'store', 'keep', name, f'{folder}/{name}.csv', '--store', store)
            tap.ok(code == 0, f'{name} is kept', err)
        call(program, 'rule', '--settle', '--person', 'board', '--store', store, '--at', AT)
        pdf = f'{folder}/r.pdf'
        for paper in SIZES:
            code, said, err = report(program, pdf, '--store', store, '--at', AT, '--paper', paper)
            tap.ok(code == 0 and err == '', f'{paper}: the report is written', (code, err))
            check_pages(tap, pdf, said, paper)
        info = tool('pdfinfo', pdf)
        tap.ok('OV-26-03' in info and said['verdict'][:40] in info.replace('\u00a0', ' ') or bare(said['verdict'])[:60] in bare(info),
               'title and verdict stand in the file', info)
        tap.ok('Dec  1 18:00:00 2026' in tool('env', 'TZ=UTC', 'pdfinfo', pdf), 'its date is the one that was asked for')
        twice = [pathlib.Path(pdf).read_bytes()]
        report(program, pdf, '--store', store, '--at', AT, '--paper', 'letter')
        tap.ok(pathlib.Path(pdf).read_bytes() == twice[0], 'the same store and time give the same bytes')
        piped = subprocess.run([program, 'report', '--store', store, '-o', '-', '--at', AT, '--paper', 'letter'], capture_output=True, timeout=120)
        tap.ok(piped.returncode == 0 and piped.stdout == twice[0], 'and the same on standard output')
        s = Store(store, f'{campaign}/reports.csv')
        check_figures(tap, program, store, s, said)
        check_studies(tap, program, store, said)
        check_wrong(tap, program, folder, store, pdf)
        check_little(tap, program, folder, campaign)
        check_odd(tap, program, folder, campaign)
    sys.exit(tap.done())


main()
