#!/bin/sh
# Make an authority of your own and the broker's certificate; with --renew, a new certificate from the same authority.
set -eu

usage() {
    cat >&2 <<'TEXT'
Usage: make-certificates.sh FOLDER NAME [NAME ...]    begin: authority and certificate
       make-certificates.sh --renew FOLDER [NAME ...] a new certificate, from the same authority
       make-certificates.sh --dates FOLDER            until when both are good
FOLDER is that of the broker, as in /etc/mosquitto/clutchwarden. NAME is what probes write as host: a name, or an
address such as 192.168.1.20; give all of them, the one that is printed for probes first.
TEXT
    exit 2
}

complain() {
    echo "$1" >&2
    exit 2
}

# Project choice: as long as the boards may last, and a renewal that one remembers. Nothing on a board changes by it.
AUTHORITY_DAYS=3650
SERVER_DAYS=825

until_when() {
    openssl x509 -in "$1" -noout -enddate | cut -d= -f2
}

dates() {
    echo "Authority (ca.pem) is good until $(until_when ca.pem); a new one has to be copied to every board."
    echo "Certificate (server.pem) is good until $(until_when server.pem), for: $(tr '\n' ' ' <names)"
    openssl x509 -in server.pem -noout -checkend 2592000 >/dev/null ||
        echo "It runs out within 30 days: run this script with --renew, then: systemctl reload mosquitto"
}

begin_authority() {
    openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -sha256 -days "$AUTHORITY_DAYS" \
        -subj "/CN=clutchwarden authority of $(uname -n)" -addext "keyUsage=critical,keyCertSign,cRLSign" \
        -keyout ca.key -out ca.pem 2>/dev/null
}

# Written beside the old ones and moved over them, so that a broker never finds half of a pair for long.
certify() {
    while read -r name; do
        case "$name" in
        *[!0-9.]*) case "$name" in *:*) echo "IP:$name" ;; *) echo "DNS:$name" ;; esac ;;
        *) echo "IP:$name" ;;
        esac
    done <names | paste -sd, - >names.list
    cat >server.ext <<TEXT
subjectAltName=$(cat names.list)
basicConstraints=critical,CA:FALSE
keyUsage=critical,digitalSignature
extendedKeyUsage=serverAuth
TEXT
    openssl req -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -sha256 \
        -subj "/CN=$(head -n 1 names | cut -c 1-64)" -keyout server.key.new -out server.csr 2>/dev/null
    openssl x509 -req -in server.csr -CA ca.pem -CAkey ca.key -set_serial "0x$(openssl rand -hex 16)" -sha256 \
        -days "$SERVER_DAYS" -extfile server.ext -out server.pem.new 2>/dev/null
    openssl verify -CAfile ca.pem server.pem.new >/dev/null
    mv server.key.new server.key
    mv server.pem.new server.pem
    rm -f server.csr server.ext names.list
}

# The broker reads its files as the user that it runs as; nobody else needs the secret ones. The authority's key stays
# with root. Without a file of passwords Mosquitto does not start; with an empty one it lets nobody in.
give_away() {
    [ -e passwords ] || : >passwords
    chmod 755 .
    chmod 600 server.key ca.key passwords
    chmod 644 server.pem ca.pem names
    if [ "$(id -u)" = 0 ] && id mosquitto >/dev/null 2>&1; then
        for file in server.key server.pem passwords acl; do
            [ ! -e "$file" ] || chown mosquitto:mosquitto "$file"
        done
    fi
}

command -v openssl >/dev/null || complain "openssl is missing. Install it: apt install openssl"
what=begin
case "${1-}" in
--renew) what=renew && shift ;;
--dates) what=dates && shift ;;
-*) usage ;;
esac
[ $# -ge 1 ] || usage
folder=$1
shift
[ "$what" != begin ] || [ $# -ge 1 ] || usage
[ "$what" = begin ] || [ -f "$folder/ca.pem" ] || complain "$folder has no authority (ca.pem) yet; begin without $what."
for name in "$@"; do
    case "$name" in *[!A-Za-z0-9.:-]* | "" | -*) complain "\"$name\" is no name of a machine and no address." ;; esac
done
mkdir -p "$folder"
cd "$folder"
umask 077
case "$what" in
begin)
    [ ! -e ca.pem ] || complain "$folder has an authority already, which the boards know; nothing was changed. Use --renew."
    begin_authority
    ;;
dates)
    dates
    exit 0
    ;;
esac
[ $# -eq 0 ] || printf '%s\n' "$@" >names
certify
give_away
dates
