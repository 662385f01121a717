"""soakpeople: what technicians, clerks and owners do in soak.py, call by call as their pages do it, with pauses in between; and the ledger of
what the server acknowledged to them."""
import asyncio
import json
import random
import time

from soakkit import Broken, Person

FILTERS = ['', '&needs=person', '&needs=payment', '&needs=shop', '&verdict=pay', '&verdict=ask', '&verdict=hold', '&findings=none&needs=payment', '&rule=late', '&bulletin=OV-26-03']
# Studies that are quickly answered on some hundred claims; one runs at a time for the whole desk.
STUDIES = [('held', {'at-most': '1'}), ('labour', {}), ('digits', {'by': 'shop', 'step': '0.1'}), ('capability', {}), ('audit', {'aql': '1', 'lq': '10'})]
EXPORTS = ['units.csv', 'claims.csv', 'stations.csv', 'readings.csv', 'rulings.csv', 'awards.json', 'payments.json', 'claims.json']


class Over(Exception):
    """The time is up."""


def place(tag):
    """Where in the log the claim's state is that an entity tag names."""
    return int(tag.strip('"').rsplit('-', 1)[1])


class Ledger:
    """What was acknowledged. Words and notes by their text, which is a different one each time."""

    def __init__(self):
        self.claims, self.words, self.notes, self.backs, self.paid, self.unsure = {}, {}, {}, [], [], set()
        self.refused, self.broken_off, self.pieces, self.again, self.wrong, self.news = set(), 0, 0, 0, [], 0

    def took(self, bag, answer):
        told = answer.json
        was = self.claims.setdefault(bag.sha256, told['claim'])
        if was != told['claim'] or told['job'] != bag.job or told['vin'] != bag.vin:
            self.wrong.append(f'bag {bag.path.name}: claim {told} after {was}, its job is {bag.job}')
        if told['result'] == 'already':
            self.again += 1


class Someone(Person):
    """A person with habits: dice of their own, so that a seed gives the same run as far as the server's answers do."""

    def __init__(self, soak, name, role, shop=None):
        super().__init__(soak, name, role, shop)
        self.dice = random.Random(f'{soak.seed} {name}')
        self.n_words = 0

    async def think(self, times=1.0):
        s = min(4.0, max(0.1, self.dice.expovariate(1.0))) * self.soak.think_s * times
        left = self.soak.end - time.monotonic()
        await asyncio.sleep(max(0.0, min(s, left)))
        if s >= left:
            raise Over

    async def get(self, kind, path, **more):
        return await self.call(kind, 'GET', path, **more)

    async def come_again(self):
        """Goes, and comes in by a new link that an owner made."""
        await self.call('sign out', 'DELETE', '/api/v1/session', good=(204,))
        self.cookie = self.csrf = None
        link = await self.soak.link_for(self.name)
        await self.come_in(link)

    async def live(self, begin):
        """Their hours: what they do, again and again, until the time is up."""
        try:
            await asyncio.sleep(self.dice.random() * min(30.0, self.soak.seconds / 10))
            while True:
                try:
                    if self.cookie is None:
                        await self.come_in(await self.soak.link_for(self.name))
                    await begin()
                except Broken:
                    pass  # counted where it happened
                await self.think()
        except Over:
            pass
        finally:
            self.hang_up()


class Technician(Someone):
    def __init__(self, soak, name, shop, bags):
        super().__init__(soak, name, 'technician', shop)
        self.bags, self.sent, self.tag = list(bags), [], ''
        self.due = sorted(self.dice.random() * 0.9 * soak.seconds for _ in bags)

    def is_due(self):
        """Their bags come at any moment of nine tenths of the time."""
        return bool(self.bags) and time.monotonic() - self.soak.began >= self.due[-len(self.bags)]

    async def work(self):
        if self.is_due():
            bag = self.bags.pop(0)
            try:
                if bag.kind == 'clean' or self.dice.random() < 0.5:
                    await self.relay(bag)
                await self.send(bag)
                self.sent.append(bag)
            except (Broken, Over) as e:
                self.bags.append(bag)  # the phone still has it
                if isinstance(e, Over):
                    raise
            return
        await self.dice.choices([self.look, self.look_back, self.send_again, self.come_again, self.practise], [6, 6, 2, 0.4, 1])[0]()

    async def look(self):
        await self.get('session', '/api/v1/session')
        await self.get('bulletins', '/api/v1/bulletins')
        a = await self.get('a bulletin', '/api/v1/bulletins/OV-26-03/2', headers={'If-None-Match': self.tag} if self.tag else None, good=(200, 304))
        self.tag = a.tag or self.tag
        await self.get('open jobs', '/api/v1/jobs')
        await self.get('units', f'/api/v1/units?limit=20&vin={(self.bags or self.sent)[0].vin[-6:]}' if self.bags or self.sent else '/api/v1/units?limit=20&label=WD40')

    async def look_back(self):
        a = await self.get("the shop's claims", '/api/v1/claims?limit=50')
        if rows := a.json['claims']:
            claim = self.dice.choice(rows)['claim']
            await self.get('a claim', f'/api/v1/claims/{claim}')
            await self.get('letter, text', f'/api/v1/claims/{claim}/letter?as=text&language={self.dice.choice(("en", "es", "fr"))}')

    async def practise(self):
        await self.get('practice sets', '/api/v1/practice/sets')

    async def relay(self, bag):
        """The job while it is open: this phone and a colleague's, events in some calls, one of them twice, photos there and back."""
        file, at = bag.events(), f'/api/v1/jobs/{bag.job}/events'
        events, steps = file['events'], self.dice.randint(2, 4)
        phone = '01' + ''.join(self.dice.choices('0123456789ABCDEFGHJKMNPQRSTVWXYZ', k=24))
        cut = [len(events) * i // steps for i in range(steps + 1)]
        for i in range(steps):
            part = {**file, 'events': events[cut[i]:cut[i + 1]]}
            for _ in range(2 if self.dice.random() < 0.2 else 1):
                a = await self.call('events of a job', 'POST', at, part, good=(200, 201))
            if a.status >= 400 or a.json['events'] < cut[i + 1]:
                self.soak.ledger.wrong.append(f'job {bag.job}: {cut[i + 1]} events were passed on, it says {a.bytes[:200]!r}')
                return
            if i == 0:
                await self.call('a phone is there', 'PUT', f'/api/v1/jobs/{bag.job}/phones/{phone}', good=(204,))
            await self.think(0.5)
            a = await self.get('what is new of a job', f'{at}?after={cut[i]}')
            if [e['id'] for e in a.json['events']][:cut[i + 1] - cut[i]] != [e['id'] for e in part['events']]:
                self.soak.ledger.wrong.append(f'job {bag.job}: the events after {cut[i]} are not those that were passed on')
        for event in [e for e in events if e['type'] == 'photo_taken'][:2]:
            data, where = bag.photo(event), f"/api/v1/jobs/{bag.job}/photos/{event['payload']['sha256']}"
            a = await self.call('photo of a job, there', 'PUT', where, data, {'Content-Type': 'image/jpeg'}, good=(200, 201, 204), expected=(422,) if bag.kind.startswith('photo') or bag.is_refused else ())
            if a.status < 400:
                b = await self.get('photo of a job, back', where)
                if b.bytes != data:
                    self.soak.ledger.wrong.append(f'a photo of job {bag.job} comes back as other bytes')
            await self.think(0.3)

    def good(self, bag):
        return {'good': (422,)} if bag.is_refused else {'good': (200, 201)}

    def told(self, bag, answer):
        if bag.is_refused:
            self.soak.ledger.refused.add(bag.sha256)
        elif answer.status in (200, 201):
            self.soak.ledger.took(bag, answer)

    async def send(self, bag):
        path, data, ledger = f'/api/v1/bags/{bag.sha256}', bag.path.read_bytes(), self.soak.ledger
        how = self.dice.choices(['whole', 'pieces', 'slow', 'broken off', 'broken piece', 'twice at once'], [8, 5, 1, 3, 3, 2])[0]
        if how in ('pieces', 'broken piece'):
            await self.send_pieces(bag, path, data, how == 'broken piece')
        elif how == 'twice at once':
            other = Person(self.soak, self.name, self.role, self.shop)
            other.cookie, other.csrf = self.cookie, self.csrf
            both = await asyncio.gather(*(p.call('bag, whole', 'PUT', path, data, **self.good(bag)) for p in (self, other)))
            other.hang_up()
            if not bag.is_refused and sorted(a.status for a in both) != [200, 201]:
                ledger.wrong.append(f'bag {bag.path.name} twice at once: {[a.status for a in both]}')
            for a in both:
                self.told(bag, a)
        else:
            if how == 'broken off':
                ledger.broken_off += 1
                await self.break_off('PUT', path, data[:self.dice.randint(1, len(data) - 1)], len(data), {}, self.dice.random() < 0.5)
                await self.think(0.5)
            self.told(bag, await self.call(f"bag, {'slowly' if how == 'slow' else 'whole'}", 'PUT', path, data, pieces=len(data) // 12 + 1 if how == 'slow' else None, **self.good(bag)))
        if self.dice.random() < 0.25:
            self.told(bag, await self.call('bag, again', 'PUT', path, data, good=(422,) if bag.is_refused else (200,)))

    async def send_pieces(self, bag, path, data, is_broken):
        """In pieces; one of them may break off: then the phone asks how far it is, and goes on from there."""
        ledger, size, at = self.soak.ledger, len(data) // self.dice.randint(3, 6) + 1, 0
        break_at = self.dice.randrange(3) * size if is_broken else -1
        while at < len(data):
            end = min(len(data), at + size)
            headers = {'Content-Range': f'bytes {at}-{end - 1}/{len(data)}'}
            if at == break_at:
                break_at, is_broken = -1, True
                ledger.broken_off += 1
                await self.break_off('PUT', path, data[at:(at + end) // 2], end - at, headers, self.dice.random() < 0.5)
                await self.think(0.3)
                a = await self.get('how far a bag is', path)
                if a.json['received'] != at:
                    ledger.wrong.append(f"bag {bag.path.name}: {at} bytes were acknowledged, it says {a.json['received']}")
                    at = a.json['received']
                continue
            a = await self.call('bag, a piece', 'PUT', path, data[at:end], headers, **({'good': (202,)} if end < len(data) else self.good(bag)))
            ledger.pieces += 1
            at = end
            if at < len(data):
                await self.think(0.1)
        self.told(bag, a)

    async def send_again(self):
        """One that was acknowledged, in another hour."""
        if known := [b for b in self.sent if b.sha256 in self.soak.ledger.claims]:
            bag = self.dice.choice(known)
            a = await self.get('how far a bag is', f'/api/v1/bags/{bag.sha256}')
            a = await self.call('bag, again', 'PUT', f'/api/v1/bags/{bag.sha256}', bag.path.read_bytes())
            self.told(bag, a)


class Clerk(Someone):
    def __init__(self, soak, name, role='clerk'):
        super().__init__(soak, name, role)
        self.own, self.tag = [], ''

    async def work(self):
        await self.dice.choices([self.list, self.open_claim, self.word, self.note, self.take_back, self.pay, self.pay_many, self.campaign, self.study, self.paper, self.come_again],
                                [8, 10, 5, 4, 2, 3, 1, 5, 0.3, 2, 0.15])[0]()

    async def list(self, more=None):
        a = await self.get('claims', f'/api/v1/claims?limit=50{self.dice.choice(FILTERS) if more is None else more}')
        return a.json['claims']

    async def open_claim(self, more=None):
        """A claim of the list as its page asks for it: (the claim, its tag); None when the list is empty."""
        rows = await self.list(more)
        if not rows:
            return None
        claim = self.dice.choice(rows)['claim']
        a = await self.get('a claim', f'/api/v1/claims/{claim}')
        await self.get('events of a claim', f'/api/v1/claims/{claim}/events')
        photos = [p for p in a.json['photos'] if p.get('sha256') and p.get('bytes')]
        for p in self.dice.sample(photos, min(2, len(photos))):
            await self.get('photo of a claim', f"/api/v1/claims/{claim}/photos/{p['sha256']}")
        await self.think(0.5)
        return claim, a.tag

    def text(self, what):
        self.n_words += 1
        return f'{what} {self.n_words} by {self.name}'

    async def write(self, kind, method, claim, path, body, tag, text=None):
        """A change by If-Match. 412: somebody was quicker, which the page shows; 409: the state does not allow it; both change nothing."""
        try:
            a = await self.call(kind, method, f'/api/v1/claims/{claim}/{path}', body, {'If-Match': tag}, expected=(412, 409))
        except Broken:
            self.soak.ledger.unsure |= {text, claim}
            raise
        return a if a.status == 200 else None

    async def word(self):
        if found := await self.open_claim():
            claim, tag = found
            body = {'verdict': self.dice.choice(('pay', 'pay', 'ask', 'hold', 'refuse')), 'reason': self.text('word'), 'amount_minor': None}
            if body['verdict'] == 'pay':
                body['amount_minor'] = self.dice.randint(100, 90000)
            if a := await self.write('a word over the rules', 'POST', claim, 'ruling', body, tag, body['reason']):
                self.soak.ledger.words[body['reason']] = (claim, place(a.tag), body['verdict'], self.name)
                self.own.append((claim, a.tag))

    async def note(self):
        if found := await self.open_claim():
            claim, tag = found
            text = self.text('note')
            if await self.write('a note', 'POST', claim, 'note', {'text': text}, tag, text):
                self.soak.ledger.notes[text] = claim

    async def take_back(self):
        if self.own:
            claim, tag = self.own.pop(self.dice.randrange(len(self.own)))
            if a := await self.write('a word taken back', 'DELETE', claim, 'ruling', None, tag):
                self.soak.ledger.backs.append((claim, place(a.tag), self.name))

    async def pay(self):
        if found := await self.open_claim('&needs=payment'):
            if await self.write('a payment', 'POST', found[0], 'payment', None, found[1]):
                self.soak.ledger.paid.append(found[0])

    async def pay_many(self):
        rows = (await self.list('&needs=payment&findings=none'))[:5]
        await self.think(0.5)
        if rows:
            order = {'claims': [{'claim': r['claim'], 'etag': r['etag'].strip('"')} for r in rows]}
            try:
                a = await self.call('payments', 'POST', '/api/v1/payments', order)
            except Broken:
                self.soak.ledger.unsure |= {r['claim'] for r in rows}
                raise
            self.soak.ledger.paid += [r['claim'] for r in a.json['claims'] if r['result'] == 'paid']

    async def campaign(self):
        a = await self.get('campaign', '/api/v1/campaign', headers={'If-None-Match': self.tag} if self.tag else None, good=(200, 304))
        self.tag = a.tag or self.tag

    async def study(self):
        await self.get('studies', '/api/v1/studies')
        kind, options = self.dice.choice(STUDIES)
        a = await self.call('a study begun', 'POST', f'/api/v1/studies/{kind}', {'options': options}, good=(202,))
        if a.status == 202:
            await self.follow(a.json['task'], ('done', 'failed'))

    async def follow(self, task, ends):
        while True:
            a = await self.get('how far a task is', f'/api/v1/tasks/{task}', expected=(404,))
            if a.status != 200 or a.json['state'] in ends:
                return a
            await asyncio.sleep(1)

    async def paper(self):
        if rows := await self.list():
            claim = self.dice.choice(rows)['claim']
            await self.get('letter, PDF', f'/api/v1/claims/{claim}/letter?as=pdf&language={self.dice.choice(("en", "es", "fr"))}')

    async def rule(self):
        """The rules' turn over what came in; one clerk of the desk does this all day."""
        a = await self.call("the rules' turn begun", 'POST', '/api/v1/rulings', {'all': self.dice.random() < 0.1}, good=(202,))
        if a.status == 202 and (a := await self.follow(a.json['task'], ('done', 'failed', 'stopped'))).status == 200 and a.json['state'] != 'done':
            self.soak.ledger.wrong.append(f"the rules' turn: {a.bytes[:300]!r}")
        await self.think(1)


class Owner(Clerk):
    def __init__(self, soak, name):
        super().__init__(soak, name, 'owner')
        self.draft = ''

    async def work(self):
        await self.dice.choices([self.list, self.open_claim, self.campaign, self.people, self.drafts, self.check, self.export, self.figures, self.invite, self.study],
                                [3, 4, 4, 3, 3, 2, 2, 2, 1, 0.3])[0]()

    async def people(self):
        await self.get('people', '/api/v1/people')
        await self.get('audit', '/api/v1/audit?limit=50')
        await self.get('shops', '/api/v1/shops')

    async def drafts(self):
        await self.get('drafts', '/api/v1/drafts')
        text = self.soak.bulletin + f'# {self.text("draft")}\n'
        a = await self.call('a draft kept', 'PUT', f'/api/v1/drafts/{self.name}', {'text': text}, {'If-Match': self.draft} if self.draft else {'If-None-Match': '*'})
        self.draft = a.tag
        a = await self.get('a draft', f'/api/v1/drafts/{self.name}')
        if a.bytes.decode() != text:
            self.soak.ledger.wrong.append(f'the draft of {self.name} is not what was kept last')

    async def check(self):
        await self.call('a bulletin checked', 'POST', '/api/v1/bulletins/check', {'text': self.soak.bulletin, 'whole': self.dice.random() < 0.5})

    async def export(self):
        name = self.dice.choice(EXPORTS)
        a = await self.get('export', f'/api/v1/export/{name}')
        if name.endswith('.json') and not isinstance(a.json, list):
            self.soak.ledger.wrong.append(f'export {name}: {a.bytes[:200]!r}')

    async def figures(self):
        await self.get('figures for a monitor', '/metrics')
        await self.get('health', '/health')

    async def invite(self):
        """Somebody new, changed, and revoked again."""
        name = self.text('temp').replace(' ', '-')
        await self.call('a person let in', 'POST', '/api/v1/people', {'name': name, 'role': 'clerk'}, good=(201,))
        await self.think(0.3)
        await self.call('a person revoked', 'DELETE', f'/api/v1/people/{name}', good=(204,))


async def listen(soak, person):
    """The stream of news of somebody at the desk, for as long as it goes on; ids must ascend. Where it ends it is begun again from the last one heard."""
    last = 0
    while not soak.is_over():
        if person.cookie is None:
            await asyncio.sleep(1)
            continue
        try:
            reader, writer = await asyncio.open_connection('127.0.0.1', soak.port)
            writer.write(person.head('GET', '/api/v1/news', None, {'Accept': 'text/event-stream', **({'Last-Event-ID': last} if last else {})}))
            if (status := int((await reader.readline()).split(b' ')[1])) not in (200, 401):  # 401: just signing in anew
                soak.figures.complain(f'news: {status}')
            while status == 200 and (line := await reader.readline()):
                if line.startswith(b'id: '):
                    if int(line[4:]) < last:
                        soak.ledger.wrong.append(f'news for {person.name}: {int(line[4:])} after {last}')
                    last, soak.ledger.news = int(line[4:]), soak.ledger.news + 1
            writer.close()
        except (OSError, EOFError, ValueError) as e:
            if not soak.is_over():
                soak.figures.complain(f'news for {person.name}: {type(e).__name__} {e}')
        await asyncio.sleep(1)
