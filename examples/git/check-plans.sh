#!/bin/sh
# Checks every plan of a repository; for any service that runs a shell script on what is pushed to it.
# The findings go to the log, and as SARIF 2.1.0 to a file for services that show them beside the lines.
#
#     check-plans.sh [FOLDER] [REPORT]
set -eu

folder=${1:-.}
report=${2:-meniscus.sarif}
meniscus=${MENISCUS:-meniscus}

status=0
"$meniscus" check --deny warnings "$folder" || status=$?
# What is wrong was told above: here only whether the report could be written counts.
"$meniscus" check --format sarif "$folder" >"$report" || [ $? -eq 1 ]
"$meniscus" format --check "$folder" || status=$?
exit "$status"
