#!/bin/sh
# Makes one encrypted backup of a SQLite store and the keys, while the server runs. Needs `sqlite3` and `age`.
#
#     backup.sh DATA_DIR RECIPIENTS FOLDER
#
# RECIPIENTS holds age public keys, one a line: whoever has one of the private keys, which do not belong on this
# machine, can read the backup. FOLDER gets plumbline-<date>T<time>Z.tar.age. Nothing is deleted there: how long
# backups are kept is the school's to say. The exit code is 0 only if the backup is whole and on disk.
set -eu
umask 077

data=${1:?data folder} recipients=${2:?file of age recipients} folder=${3:?folder for backups}
work=$(mktemp -d)
trap 'rm -rf -- "$work"' EXIT
name=plumbline-$(date -u +%Y-%m-%dT%H%M%SZ)
mkdir "$work/$name"

# Takes what is in the write-ahead log too, and waits where the server is writing.
sqlite3 -cmd '.timeout 30000' "$data/plumbline.db" ".backup '$work/$name/plumbline.db'"
said=$(sqlite3 "$work/$name/plumbline.db" 'PRAGMA integrity_check')
[ "$said" = ok ] || { echo "the copy is damaged: $said" >&2; exit 1; }
cp -R -- "$data/keys" "$work/$name/keys"

tar -C "$work" -cf "$work/backup.tar" "$name"
age -R "$recipients" -o "$folder/$name.part" "$work/backup.tar"
sync "$folder/$name.part"
mv -- "$folder/$name.part" "$folder/$name.tar.age"
sync "$folder"
echo "$folder/$name.tar.age"
