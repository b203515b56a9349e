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

# What openssl says is for nobody as long as all is well.
quietly() {
    said=$("$@" 2>&1) || complain "$said
openssl could not make the certificates; its own words are above. If a name or address is wrong, correct it and try again."
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
        echo "It runs out within 30 days: run this script with --renew, then: systemctl restart mosquitto"
}

begin_authority() {
    quietly openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -sha256 -days "$AUTHORITY_DAYS" \
        -subj "/CN=clutchwarden authority of $(uname -n)" -addext "keyUsage=critical,keyCertSign,cRLSign" \
        -keyout ca.key.new -out ca.pem.new
    mv ca.key.new ca.key
    mv ca.pem.new ca.pem
}

# A certificate that outlived its authority would be refused by every board before it says itself that it ends.
days_of_server() {
    ends=$(date -d "$(until_when ca.pem)" +%s)
    days=$(((ends - $(date +%s)) / 86400))
    [ "$days" -gt 0 ] || complain "The authority (ca.pem) has run out, or does so today. Begin a new one in another folder, and copy its ca.pem to every board."
    if [ "$days" -lt "$SERVER_DAYS" ]; then
        echo "The authority ends in $days days, and so does this certificate. Before that begin a new authority in another" \
            "folder, and copy its ca.pem to every board."
    else
        days=$SERVER_DAYS
    fi
}

# Written beside the old ones and moved over them, so that a broker never finds half of a pair for long.
certify() {
    days_of_server
    while read -r name; do
        case "$name" in
        *:*) echo "IP:$name" ;;
        *[!0-9.]*) echo "DNS:$name" ;;
        *) echo "IP:$name" ;;
        esac
    done <names.new | paste -sd, - >names.list
    cat >server.ext <<TEXT
subjectAltName=$(cat names.list)
basicConstraints=critical,CA:FALSE
keyUsage=critical,digitalSignature
extendedKeyUsage=serverAuth
TEXT
    quietly openssl req -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -sha256 \
        -subj "/CN=$(head -n 1 names.new | cut -c 1-64)" -keyout server.key.new -out server.csr
    quietly openssl x509 -req -in server.csr -CA ca.pem -CAkey ca.key -set_serial "0x$(openssl rand -hex 16)" -sha256 \
        -days "$days" -extfile server.ext -out server.pem.new
    quietly openssl verify -CAfile ca.pem server.pem.new
    mv server.key.new server.key
    mv names.new names
    # Last: by it one sees that all is there.
    mv server.pem.new server.pem
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
# What is half made says nothing of the broker, so it goes in any case.
trap 'rm -f ca.key.new ca.pem.new names.new names.list server.ext server.csr server.key.new server.pem.new' EXIT
case "$what" in
begin)
    [ ! -e server.pem ] || complain "$folder has an authority already, which the boards know; nothing was changed. Use --renew."
    # An earlier try may have come as far as this.
    [ -s ca.pem ] || begin_authority
    ;;
dates)
    dates
    exit 0
    ;;
esac
if [ $# -gt 0 ]; then
    printf '%s\n' "$@" >names.new
else
    [ -e names ] || complain "$folder has no certificate yet; give the names and addresses by which probes reach this machine."
    cp names names.new
fi
certify
give_away
dates
