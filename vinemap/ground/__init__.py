"""Where the vines are: the estate's frame, blocks, rows and vine addresses. Pure; metres from the estate's origin."""
