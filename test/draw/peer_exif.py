"""EXIF as we write it, read by exiftool (Debian's libimage-exiftool-perl: written in Perl, no code shared with libexif), and a
picture drawn on a machine without any font.

usage: peer_exif.py TEST_PICTURE MENDWRIGHT
"""
import json
import os
import pathlib
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402

WRITER, PROGRAM = sys.argv[1:3]


# What test_picture writes: see there. Tag names and forms are exiftool's; colons in dates are EXIF's own (Exif 2.31, 4.6.5).
WANTED = {
    'EXIF:DateTimeOriginal': '2026:03:05 09:14:00',
    'EXIF:CreateDate': '2026:03:05 09:14:00',
    'EXIF:ModifyDate': '2026:03:05 09:14:00',
    'EXIF:OffsetTimeOriginal': '+01:00',
    'EXIF:OffsetTime': '+01:00',
    'EXIF:ExifImageWidth': 640,
    'EXIF:ExifImageHeight': 480,
    'EXIF:Orientation': 1,
    'EXIF:ExifVersion': '0231',
    'EXIF:ImageDescription': 'Invented picture, drawn for practice',
    'File:ImageWidth': 640,
    'File:ImageHeight': 480,
    'File:FileType': 'JPEG',
}

with tempfile.TemporaryDirectory() as folder:
    photo, bare = pathlib.Path(folder, 'photo.jpg'), pathlib.Path(folder, 'bare.jpg')
    subprocess.run([WRITER, 'write', photo], check=True)
    said = json.loads(subprocess.run(['exiftool', '-json', '-n', '-G0', photo], check=True, capture_output=True, text=True).stdout)[0]
    for tag, value in WANTED.items():
        ok(str(said.get(tag)) == str(value), f'exiftool reads {tag} as {value} (found {said.get(tag)})')
    for tag in ('ExifTool:Error', 'ExifTool:Warning', 'EXIF:Make', 'EXIF:Model', 'EXIF:GPSLatitude'):
        ok(tag not in said, f'exiftool has no {tag} to tell ({said.get(tag)})')
    whole = subprocess.run(['exiftool', '-validate', '-warning', '-a', '-s3', photo], check=True, capture_output=True, text=True).stdout
    ok(whole.strip() == 'OK', f'exiftool -validate is content ({" / ".join(whole.split(chr(10))).strip()})')

    empty = pathlib.Path(folder, 'fonts.conf')
    empty.write_text('<?xml version="1.0"?><fontconfig></fontconfig>')
    subprocess.run([WRITER, 'write', bare], check=True, env={**os.environ, 'FONTCONFIG_FILE': str(empty)})
    line = json.loads(subprocess.run([PROGRAM, 'photo', '--json', bare], capture_output=True, text=True).stdout.splitlines()[0])
    codes = [c['text'] for c in line.get('codes', [])]
    ok(line['fault'] is None and codes == ['WD-K 2024-W23'], f'without any font a picture is still drawn, code and all ({codes})')
sys.exit(tap.done())
