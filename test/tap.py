"""tap: prints what a test in Python finds in the Test Anything Protocol (test/tap.h is the same for C): one line a fact, the plan, the exit
status. It owns the count and the form of the lines, and nothing else here prints them.

    sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))  # of a script in a folder below test/
    from tap import done, ok  # noqa: E402
    ok(4 == 2 + 2, 'sums (arithmetic)', 'shown when it does not hold')
    sys.exit(done())

A script that crashes ends with Python's exit status 1, which the runner takes for a failure. One that ends with 0 before done() would pass
for good with the lines it had printed, for the runner does not miss a plan: so the end of a script without one is told as "Bail out!".
"""
import atexit
import os


class Tap:
    """One script's tests. notes_always: what is said of a test is printed when it holds, too (measured figures)."""

    def __init__(self, notes_always=False):
        self.n = self.n_bad = 0
        self.notes_always = notes_always
        self.is_over = False
        atexit.register(self._at_exit, os.getpid())

    def _at_exit(self, pid):
        if self.n and not self.is_over and os.getpid() == pid:
            print(f'Bail out! the script ended after {self.n} tests without a plan', flush=True)

    def ok(self, is_good, what, *notes):
        """Counts and prints one test; whether it holds. notes: of any type and any number of lines, shown when it does not."""
        self.n += 1
        self.n_bad += not is_good
        print(f"{'' if is_good else 'not '}ok {self.n} - {in_line(what)}", flush=True)
        for text in notes if self.notes_always or not is_good else ():
            self.note(text)
        return bool(is_good)

    def skip(self, what, why):
        """Counts a test that cannot be made here."""
        self.n += 1
        print(f'ok {self.n} - {in_line(what)} # SKIP {in_line(why)}', flush=True)

    def note(self, text):
        """A line of explanation, or several: no test."""
        for line in str(text).splitlines():
            print(f'#   {line}', flush=True)

    def done(self):
        """The plan; the exit status: 1 when a test did not hold, or when there was none, for a plan of none would be a skip."""
        self.is_over = True
        print(f'1..{self.n}' if self.n else 'Bail out! nothing was tested', flush=True)
        return 1 if self.n_bad or not self.n else 0

    def skip_all(self, why):
        """In place of all tests and of done(): none can be made here; the exit status."""
        assert self.n == 0, 'some tests were made'
        self.is_over = True
        print(f'1..0 # SKIP {in_line(why)}', flush=True)
        return 0


def in_line(text):
    """On one line, and without '#', after which the protocol looks for SKIP and TODO."""
    return ' '.join(text.replace('#', '').splitlines())


_script = Tap()
ok, skip, note, done, skip_all = _script.ok, _script.skip, _script.note, _script.done, _script.skip_all
