"""standings: what stands for each claim of a store, worked out from its log by doc/store.md and without the program."""
import json


def standings(db):
    """Two lists of rows: of the table, and worked out from the log."""
    rows = db.execute("SELECT seq, type, json FROM log ORDER BY seq").fetchall()
    wanted = {}
    for seq, kind, text in rows:
        entry = json.loads(text) if kind.startswith('store.') else {}
        if kind == 'store.claim':
            wanted[seq] = {'verdict': 'unruled', 'is_word': 0, 'amount': 0, 'paid': 0, 'currency': None, 'ruled': None, 'last': 0, 'n_ruled': 0,
                           'n_intake': len(entry['findings']), 'tail': entry['vin'][::-1]}
        elif kind in ('store.ruling', 'store.overrule', 'store.payment', 'store.lift', 'store.note'):
            s = wanted[db.execute('SELECT seq FROM claims WHERE claim = ?', (entry['claim'],)).fetchone()[0]]
            s['last'] = seq
            if kind == 'store.payment':
                s['paid'] += entry['amount_minor']
            if kind == 'store.ruling':
                s['ruled'], s['n_ruled'] = seq, len(entry['findings'])
            if kind in ('store.overrule', 'store.lift') or kind == 'store.ruling' and not s['is_word']:
                s.update(verdict=entry['verdict'], is_word=int(kind == 'store.overrule'), amount=entry['amount_minor'], currency=entry.get('currency'))
    def needs(s):
        worth = s['amount'] if s['verdict'] == 'pay' else 0
        if s['paid'] > worth or s['verdict'] == 'hold':
            return 'person'
        return 'payment' if worth > s['paid'] else {'unruled': 'ruling', 'ask': 'shop'}.get(s['verdict'], 'nothing')
    found = db.execute('SELECT claim_seq, verdict, is_word, amount_minor, paid_minor, currency, needs, ruled_seq, last_seq, n_ruled, n_intake, tail '
                       'FROM standings ORDER BY claim_seq').fetchall()
    expected = [(k, s['verdict'], s['is_word'], s['amount'], s['paid'], s['currency'], needs(s), s['ruled'], s['last'], s['n_ruled'], s['n_intake'], s['tail'])
                for k, s in sorted(wanted.items())]
    return found, expected
