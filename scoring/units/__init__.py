"""Units: conversion, what each number of a formula is a number of, units in the names of columns."""
