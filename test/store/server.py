#!/usr/bin/env python3
"""server: a PostgreSQL of the test's own, from Debian's package, in a temporary folder: reached by a Unix socket alone, gone afterwards.

usage: server.py PROGRAM [ARGUMENT...]    runs PROGRAM with MENDWRIGHT_TEST_SERVER set to the server's address

PostgreSQL does not run as root; root starts it as the user postgres, which the package makes. fsync is off: what is tested here is
never the disk (a server that is killed loses nothing by it, a machine that loses power would).
"""
import glob
import os
import pathlib
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.parse

SETTINGS = {'listen_addresses': '', 'fsync': 'off', 'max_connections': '200', 'shared_buffers': '64MB', 'log_min_messages': 'warning',
            'unix_socket_permissions': '0777', 'logging_collector': 'off', 'autovacuum_naptime': '10s'}


def programs():
    """The folder of the newest PostgreSQL's programs."""
    found = sorted(glob.glob('/usr/lib/postgresql/*/bin/initdb'), key=lambda p: int(p.split('/')[4]))
    if not found:
        sys.exit('server: there is no PostgreSQL; tools/deps test brings it')
    return pathlib.Path(found[-1]).parent


class Server:
    """with Server() as s: s.address is a URI without files=; s.folder holds the socket, the data and the server's log."""

    def __init__(self, **settings):
        self.settings = SETTINGS | settings
        self.bin = programs()
        self.folder = None
        self.user = None
        if os.geteuid() == 0:
            self.user = pwd.getpwnam('postgres')

    def run(self, program, *args):
        """One of PostgreSQL's programs, as the server's user."""
        env = {'PATH': os.environ.get('PATH', '/usr/bin:/bin'), 'LC_ALL': 'C.UTF-8', 'TZ': 'UTC'}
        who = {'user': self.user.pw_uid, 'group': self.user.pw_gid, 'extra_groups': []} if self.user else {}
        done = subprocess.run([self.bin / program, *args], env=env, cwd=self.folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                              stderr=subprocess.STDOUT, text=True, **who)
        if done.returncode != 0:
            log = self.folder / 'log'
            raise RuntimeError(f'{program}: {done.stdout}{log.read_text()[-2000:] if log.exists() else ""}')
        return done.stdout

    def start(self):
        words = ' '.join(f"-c {name}='{value}'" for name, value in self.settings.items())
        self.run('pg_ctl', 'start', '-w', '-t', '60', '-D', self.folder / 'data', '-l', self.folder / 'log', '-o', f"-k '{self.folder}' {words}")

    def stop(self, mode='fast'):
        self.run('pg_ctl', 'stop', '-w', '-t', '60', '-m', mode, '-D', self.folder / 'data')

    def postmaster(self):
        return int((self.folder / 'data' / 'postmaster.pid').read_text().split()[0])

    def children(self):
        """{pid: title} of the postmaster's processes."""
        found = {}
        for pid in pathlib.Path(f'/proc/{self.postmaster()}/task/{self.postmaster()}/children').read_text().split():
            try:
                found[int(pid)] = pathlib.Path(f'/proc/{pid}/cmdline').read_bytes().replace(b'\0', b' ').decode('utf-8', 'replace')
            except OSError:
                pass  # gone since
        return found

    def kill(self):
        """kill -9 of the postmaster; its children notice and end. Returns when the last is gone."""
        pids = [self.postmaster(), *self.children()]
        os.kill(pids[0], signal.SIGKILL)
        until(lambda: not any(is_alive(pid) for pid in pids), 'the killed server\'s processes are gone')
        for lock in (self.folder / 'data' / 'postmaster.pid', self.folder / '.s.PGSQL.5432.lock'):
            lock.unlink()  # or, where the dead are buried late, the next one would think it lives

    def copy_from(self, primary):
        """Instead of a database of its own: the primary's, as its standby (hot, streaming)."""
        shutil.rmtree(self.folder / 'data', ignore_errors=True)
        self.run('pg_basebackup', '-D', self.folder / 'data', '-R', '-X', 'stream', '-c', 'fast', '-d',
                 f'host={primary.folder} user=tester dbname=postgres application_name={self.folder.name}')
        self.start()
        until(lambda: primary.ask(f"SELECT 1 FROM pg_stat_replication WHERE application_name = '{self.folder.name}' AND state = 'streaming'"), 'the standby streams')

    def wait_for(self, standby):
        """From here on a commit waits until the standby has it on its disk."""
        self.ask(f"ALTER SYSTEM SET synchronous_standby_names TO '\"{standby.folder.name}\"'")
        self.ask('SELECT pg_reload_conf()')
        until(lambda: self.ask("SELECT 1 FROM pg_stat_replication WHERE sync_state = 'sync'"), 'the standby is waited for')

    def wait_ready(self):
        def is_ready():
            try:
                return self.ask('SELECT 1') == ['1']
            except RuntimeError:
                return False
        until(is_ready, 'the server takes questions')

    def promote(self):
        self.ask("ALTER SYSTEM RESET synchronous_standby_names")  # where the fallen primary's settings came along
        self.ask('SELECT pg_reload_conf()')
        self.run('pg_ctl', 'promote', '-w', '-t', '60', '-D', self.folder / 'data')

    def make_folder(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix='mw-pg-'))  # short: a socket's path has at most 107 bytes
        self.folder.chmod(0o755)
        if self.user:
            os.chown(self.folder, self.user.pw_uid, self.user.pw_gid)

    def __enter__(self):
        self.make_folder()
        try:
            self.run('initdb', '-D', self.folder / 'data', '-E', 'UTF8', '--locale=C.UTF-8', '-A', 'trust', '-U', 'tester', '-N')
            self.start()
        except BaseException:
            shutil.rmtree(self.folder, ignore_errors=True)
            raise
        return self

    def end(self):
        try:
            self.stop('immediate')
        except RuntimeError:
            pass
        shutil.rmtree(self.folder, ignore_errors=True)

    def __exit__(self, *_):
        self.end()

    @property
    def address(self):
        return f'postgresql:///postgres?host={self.folder}&user=tester'

    def store(self, files, schema='mendwright', **options):
        """The word for --store."""
        more = ''.join(f'&{name}={value}' for name, value in options.items())
        return f'{self.address}&files={files}&schema={schema}{more}'

    def ask(self, sql):
        """What psql prints, a list of lines."""
        return self.run('psql', '-X', '-q', '-A', '-t', '-h', self.folder, '-U', 'tester', '-d', 'postgres', '-v', 'ON_ERROR_STOP=1', '-c',
                        sql).splitlines()


def is_alive(pid):
    try:
        return pathlib.Path(f'/proc/{pid}/stat').read_text().rpartition(')')[2].split()[0] != 'Z'
    except OSError:
        return False


def until(is_so, what, seconds=60):
    end = time.monotonic() + seconds
    while not is_so():
        if time.monotonic() > end:
            raise RuntimeError(f'after {seconds} s it was still waited for: {what}')
        time.sleep(0.02)


class Pair:
    """with Pair() as pair: two servers, of which pair.primary writes and waits for pair.standby. pair.address names both, as libpq has it."""

    def __init__(self, **settings):
        self.settings = settings

    def __enter__(self):
        self.primary, self.standby = Server(**self.settings).__enter__(), Server(**self.settings)
        try:
            self.standby.make_folder()
            self.both = (self.primary, self.standby)
            self.join()
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_):
        for server in (self.primary, self.standby):
            if server.folder:
                server.end()

    def join(self):
        """A standby anew, from the primary's whole."""
        self.standby.copy_from(self.primary)
        self.primary.wait_for(self.standby)
        self.is_alone = False

    def take_over(self):
        """The primary was killed: the standby takes its place. The fallen one lies as it fell, until join()."""
        self.standby.promote()
        self.primary, self.standby = self.standby, self.primary
        self.is_alone = True

    @property
    def address(self):
        hosts = ','.join(urllib.parse.quote(str(s.folder), safe='') for s in self.both)
        return f'postgresql://{hosts}/postgres?target_session_attrs=read-write&user=tester'


def main(argv):
    if not argv:
        sys.exit(__doc__)
    with Server() as server:
        return subprocess.run(argv, env=os.environ | {'MENDWRIGHT_TEST_SERVER': server.address}).returncode


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
