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
import subprocess
import sys
import tempfile

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

    def __enter__(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix='mw-pg-'))  # short: a socket's path has at most 107 bytes
        try:
            self.folder.chmod(0o755)
            if self.user:
                os.chown(self.folder, self.user.pw_uid, self.user.pw_gid)
            self.run('initdb', '-D', self.folder / 'data', '-E', 'UTF8', '--locale=C.UTF-8', '-A', 'trust', '-U', 'tester', '-N')
            self.start()
        except BaseException:
            shutil.rmtree(self.folder, ignore_errors=True)
            raise
        return self

    def __exit__(self, *_):
        try:
            self.stop('immediate')
        except RuntimeError:
            pass
        shutil.rmtree(self.folder, ignore_errors=True)

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


def main(argv):
    if not argv:
        sys.exit(__doc__)
    with Server() as server:
        return subprocess.run(argv, env=os.environ | {'MENDWRIGHT_TEST_SERVER': server.address}).returncode


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
