@echo off
rem Double-click: sets up, runs the demonstration day, opens the workbench. Needs Python 3.11 or newer.
cd /d "%~dp0"
where py >nul 2>nul && (set PY=py -3) || (set PY=python)
%PY% tools\prepare.py run || goto end
.venv\Scripts\python.exe -m lodestarch demo --serve
:end
pause
