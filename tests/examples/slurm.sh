#!/usr/bin/env bash
# The dossiers of all enquiries as an array of 16 tasks, then the reports joined:
#   mkdir -p reports && sbatch tests/examples/slurm.sh
# Program, data folder and Typst lie on a file system that all nodes see; run `lapwise setup` once beforehand.
#SBATCH --job-name=lapwise
#SBATCH --array=1-16
#SBATCH --cpus-per-task=4
#SBATCH --mem=2G
#SBATCH --time=02:00:00
#SBATCH --signal=B:TERM@60
#SBATCH --output=reports/part-%a.log
set -euo pipefail

part="$SLURM_ARRAY_TASK_ID"
# `exec`, so that the request to end before the time is up reaches the program: it leaves whole files and says what it did.
exec lapwise dossier --all --part "$part/$SLURM_ARRAY_TASK_COUNT" --jobs "$SLURM_CPUS_PER_TASK" \
    -o out --json > "reports/part-$part.json"

# When all tasks are done, on one node:
#   lapwise gather reports/part-*.json -o all.json
