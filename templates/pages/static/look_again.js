// Looks again by itself for what is being made. Without this script its link does.

setTimeout(() => location.reload(), 3000);
