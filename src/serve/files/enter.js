// The button of a one-time link: spends it, keeps no trace of it in the address, and goes on to the pages.
const button = document.getElementById('enter');
const said = document.getElementById('said');
const link = decodeURIComponent(location.pathname.split('/').pop());
history.replaceState(null, '', '/enter/-');

button.addEventListener('click', async () => {
  button.disabled = true;
  said.textContent = '';
  try {
    const answer = await fetch('/api/v1/session', {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ link }),
    });
    const told = await answer.json();
    if (answer.ok) {
      location.replace('/');
      return;
    }
    said.textContent = told.detail;
  } catch {
    said.textContent = 'The server cannot be reached. Is there a connection?';
  }
  button.disabled = false;
});
