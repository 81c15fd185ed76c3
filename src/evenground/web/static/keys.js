// Ctrl+S, Ctrl+Z, Ctrl+Y for the whole window; while typing only Ctrl+S
document.addEventListener('keydown', (e) => {
  if (!(e.ctrlKey || e.metaKey)) return;
  const key = e.key.toLowerCase();
  const redo = key === 'y' || (key === 'z' && e.shiftKey);
  const name = key === 's' ? 'save' : redo ? 'redo' : key === 'z' ? 'undo' : '';
  const typing = e.target.matches('input, textarea');
  if (!name || (typing && name !== 'save')) return;
  e.preventDefault();
  if (typing) e.target.blur();
  document.querySelector('[data-act=' + name + ']')?.click();
});
// the library's upload button has a sign only; say what it does
new MutationObserver(() => {
  for (const e of document.querySelectorAll('.q-uploader a.q-btn:not([aria-label])')) e.setAttribute('aria-label', 'Choose a file');
}).observe(document.documentElement, { childList: true, subtree: true });
