"""What every stage uses: problems, units, texts, records as JSON, files on disk, the store, workers."""
