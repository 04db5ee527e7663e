// Runs before the page is drawn, so that a chosen theme never flashes. Not a module for that reason.
(() => {
  try {
    const theme = localStorage.getItem("midfoot.theme");
    if (theme === "light" || theme === "dark") document.documentElement.dataset.theme = theme;
  } catch {
    // storage may be closed to us; the system's theme stays
  }
})();
