package store

const helperRole = "PAWL_STORE_HELPER"

func help(role string) int { return 2 }
