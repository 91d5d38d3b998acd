"""Alterations of many machines: what one does to each different circuit, what it takes, its picture and its paper."""
